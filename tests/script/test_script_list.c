/* Finding and reading script files, the shipped ones, and the libs a script is offered. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <stdio.h>
#include <sys/stat.h>
#include <unistd.h>

#include "script/script_internal.h"
#include "script/shipped.h"

static char folder[] = "/tmp/rigcall-scripts-XXXXXX";

static const char *in_folder(const char *name)
{
    static char path[4][512];
    static int turn;
    turn = (turn + 1) % 4;
    snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static void write_file(const char *name, const char *text)
{
    FILE *file = fopen(in_folder(name), "w");
    assert_non_null(file);
    fputs(text, file);
    fclose(file);
}

static void a_folder_is_read_in_order_of_names(void **state)
{
    struct script_list list = { 0 };
    struct rig_why why;
    (void)state;
    assert_int_equal(script_list_add(&list, folder, true, &why), 0);
    /* Not: .hidden.lua, notes.txt, .lua, folder.lua/ */
    assert_int_equal(list.count, 3);
    assert_string_equal(list.items[0].stem, "B");
    assert_string_equal(list.items[1].stem, "a");
    assert_string_equal(list.items[2].stem, "b.c");
    assert_string_equal(list.items[1].path, in_folder("a.lua"));
    assert_int_equal(list.items[1].length, 8);
    assert_memory_equal(list.items[1].bytes, "return 1", 8);
    assert_false(list.items[1].shipped);
    script_list_free(&list);
    assert_int_equal(list.count, 0);
}

static void what_is_missing_or_no_file_is_said(void **state)
{
    struct script_list list = { 0 };
    struct rig_why why;
    (void)state;
    assert_int_equal(script_list_add(&list, in_folder("none"), false, &why), 0);
    assert_int_equal(script_list_add(&list, in_folder("none"), true, &why), RIG_EIO);
    assert_non_null(strstr(why.text, "/none: No such file or directory"));
    assert_int_equal(script_list_add(&list, in_folder("pipe"), true, &why), RIG_EIO);        /* must not wait for a writer */
    assert_non_null(strstr(why.text, "/pipe: not a file, expected a script"));
    assert_int_equal(list.count, 0);
    assert_int_equal(script_list_add(&list, in_folder("notes.txt"), true, &why), 0);         /* named, so taken */
    assert_string_equal(list.items[0].stem, "notes.txt");
    script_list_free(&list);
}

static void length_is_limited(void **state)
{
    struct script_list list = { 0 };
    struct rig_why why;
    (void)state;
    write_file("long.lua", "");
    assert_int_equal(truncate(in_folder("long.lua"), SCRIPT_BYTES), 0);
    assert_int_equal(script_list_add(&list, in_folder("long.lua"), true, &why), 0);
    assert_int_equal(list.items[0].length, 65536);
    assert_int_equal(truncate(in_folder("long.lua"), SCRIPT_BYTES + 1), 0);
    assert_int_equal(script_list_add(&list, in_folder("long.lua"), true, &why), RIG_EINPUT);
    assert_non_null(strstr(why.text, "long.lua: 65537 octets, a script has at most 65536"));
    assert_int_equal(list.count, 1);
    script_list_free(&list);
    /* In a folder it must not keep the others from running. */
    write_file("short.lua", "return 1");
    assert_int_equal(script_list_add(&list, in_folder(""), true, &why), 0);
    const struct script *last = &list.items[list.count - 1];
    assert_string_equal(last[-1].stem, "long");
    assert_non_null(strstr(last[-1].trouble, "65537 octets, a script has at most 65536"));
    assert_null(last[-1].bytes);
    assert_string_equal(last->stem, "short");
    assert_null(last->trouble);
    script_list_free(&list);
    unlink(in_folder("short.lua"));
    unlink(in_folder("long.lua"));
}

static void shipped_means_equal_to_a_hash(void **state)
{
    struct script_list list = { 0 };
    struct rig_why why;
    (void)state;
    if (script_list_add(&list, RIGCALL_SOURCE_DIR "/scripts/rules", true, &why))
        fail_msg("%s", why.text);
    assert_true(list.count >= 24);
    assert_true(script__shipped_count >= list.count);
    for (size_t i = 0; i < list.count; i++)
        assert_true(list.items[i].shipped);
    /* One octet more or less, and it is not. */
    assert_true(script__is_shipped(list.items[0].bytes, list.items[0].length));
    assert_false(script__is_shipped(list.items[0].bytes, list.items[0].length - 1));
    list.items[0].bytes[0] ^= 1;
    assert_false(script__is_shipped(list.items[0].bytes, list.items[0].length));
    assert_false(script__is_shipped("", 0));
    script_list_free(&list);
}

static const struct host_lib *find_lib(const struct script_libs *libs, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++)
        if (!strcmp(libs->offered[i].name, name))
            return &libs->offered[i];
    return NULL;
}

static void libs_are_siblings_and_shipped_ones(void **state)
{
    struct script_libs libs = { 0 };
    struct script own = { .path = (char *)in_folder("a.lua"), .stem = "a" };
    struct script shipped = { .path = (char *)in_folder("a.lua"), .stem = "a", .shipped = true };
    (void)state;
    setenv("RIGCALL_SCRIPTS", in_folder("home"), 1);
    size_t count = script__libs_offer(&libs, &own);
    assert_int_equal(count, 4);                       /* B, a, b.c and other */
    assert_string_equal(find_lib(&libs, count, "B")->path, in_folder("B.lua"));       /* the nearer one of two */
    assert_memory_equal(find_lib(&libs, count, "other")->bytes, "-- other", 8);
    assert_int_equal(script__libs_offer(&libs, &shipped), 0);            /* none of these is shipped */
    script__libs_fini(&libs);
    unsetenv("RIGCALL_SCRIPTS");
    count = script__libs_offer(&libs, &shipped);
    assert_non_null(find_lib(&libs, count, "lights"));
    assert_null(find_lib(&libs, count, "B"));
    script__libs_fini(&libs);
}

static void at_most_64_libs_are_offered(void **state)
{
    struct script_libs libs = { 0 };
    struct script script = { .path = (char *)in_folder("many/0.lua"), .stem = "0" };
    char name[32];
    (void)state;
    assert_int_equal(mkdir(in_folder("many"), 0700), 0);
    for (int i = 0; i < 70; i++) {
        snprintf(name, sizeof name, "many/%d.lua", i);
        write_file(name, "x");
    }
    assert_int_equal(script__libs_offer(&libs, &script), 64);
    script__libs_fini(&libs);
    for (int i = 0; i < 70; i++) {
        snprintf(name, sizeof name, "many/%d.lua", i);
        unlink(in_folder(name));
    }
    rmdir(in_folder("many"));
}

static void home_is_found(void **state)
{
    char home[512];
    struct rig_why why;
    (void)state;
    unsetenv("RIGCALL_SCRIPTS");
    assert_int_equal(script_home(home, sizeof home, &why), 0);
    assert_string_equal(home, RIGCALL_SOURCE_DIR "/scripts");
    setenv("RIGCALL_SCRIPTS", folder, 1);
    assert_int_equal(script_home(home, sizeof home, &why), 0);
    assert_string_equal(home, folder);
    setenv("RIGCALL_SCRIPTS", "/nowhere", 1);
    assert_int_equal(script_home(home, sizeof home, &why), RIG_EIO);
    assert_string_equal(why.text, "RIGCALL_SCRIPTS: /nowhere is not a folder");
    unsetenv("RIGCALL_SCRIPTS");
    assert_int_equal(script_home(home, 5, &why), RIG_EIO);
}

static void any_script_can_be_described(void **state)
{
    struct script script = { .path = "folder/it.lua", .stem = "it" };
    struct script_about about;
    struct rig_why why;
    struct show *show = show_new();
    (void)state;
    assert_int_equal(show_index(show), 0);
    script.bytes = "return { kind = \"sequence\", name = \"it\", about = \"It is.\","
                   " params = { n = { \"integer\", min = 1, max = 9, default = 3 } }, run = function() error(\"run\") end }";
    script.length = strlen(script.bytes);
    if (script_describe(show, &script, &about, &why))
        fail_msg("%s", why.text);
    assert_int_equal(about.kind, SCRIPT_SEQUENCE);
    assert_string_equal(about.name, "it");
    assert_string_equal(about.about, "It is.");
    assert_int_equal(about.param_count, 1);
    assert_string_equal(about.params[0].default_text, "3");
    script.bytes = "\n\nerror('no')";
    script.length = strlen(script.bytes);
    assert_int_equal(script_describe(show, &script, &about, &why), RIG_ESCRIPT);
    assert_string_equal(why.text, "folder/it.lua:3: no");
    show_free(show);
}

static const char *const made[] = { "B.lua", "a.lua", "b.c.lua", ".hidden.lua", ".lua", "notes.txt", "home/lib/B.lua", "home/lib/other.lua" };

static int set_up(void **state)
{
    (void)state;
    if (!mkdtemp(folder) || mkdir(in_folder("folder.lua"), 0700) || mkdir(in_folder("home"), 0700) || mkdir(in_folder("home/lib"), 0700)
        || mkfifo(in_folder("pipe"), 0600))
        return 1;
    for (size_t i = 0; i < sizeof made / sizeof *made; i++)
        write_file(made[i], i == 7 ? "-- other" : "return 1");
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof made / sizeof *made; i++)
        unlink(in_folder(made[i]));
    unlink(in_folder("pipe"));
    rmdir(in_folder("folder.lua"));
    rmdir(in_folder("home/lib"));
    rmdir(in_folder("home"));
    return rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_folder_is_read_in_order_of_names), cmocka_unit_test(what_is_missing_or_no_file_is_said),
        cmocka_unit_test(length_is_limited), cmocka_unit_test(shipped_means_equal_to_a_hash),
        cmocka_unit_test(libs_are_siblings_and_shipped_ones), cmocka_unit_test(at_most_64_libs_are_offered),
        cmocka_unit_test(home_is_found), cmocka_unit_test(any_script_can_be_described),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
