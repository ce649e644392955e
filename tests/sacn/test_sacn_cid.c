/* Component identifiers. Expected values: Python 3.11, uuid.uuid5() with the name spaces of sacn_cid.c. */
#include <dirent.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

#include <uuid/uuid.h>

#include "rigcall/sacn.h"
#include "sacn/sacn_internal.h"

static char folder[64], state_path[128], machine_path[128], id_path[192];

static int make_folder(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/rigcall-cid-XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    snprintf(state_path, sizeof state_path, "%s/a/b/rigcall", folder);
    snprintf(id_path, sizeof id_path, "%s/host-id", state_path);
    snprintf(machine_path, sizeof machine_path, "%s/machine-id", folder);
    return 0;
}

static int remove_folder(void **state)
{
    (void)state;
    char path[256];
    unlink(id_path);
    unlink(machine_path);
    rmdir(state_path);
    snprintf(path, sizeof path, "%s/a/b", folder);
    rmdir(path);
    snprintf(path, sizeof path, "%s/a", folder);
    rmdir(path);
    return rmdir(folder);             /* fails, and the test with it, when anything else was left behind */
}

static void put(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs(text, file);
    assert_int_equal(fclose(file), 0);
}

static void dry_cid_is_the_uuid_of_the_name(void **state)
{
    (void)state;
    uint8_t cid[16];
    char text[37];
    sacn_cid_dry("Harbour Lanterns", cid);
    uuid_unparse_lower(cid, text);
    assert_string_equal(text, "c63f6fa1-3911-5fc3-8b0c-26c2d45be835");
}

static void live_cid_is_steady_and_differs_by_show(void **state)
{
    (void)state;
    uint8_t first[16], again[16], other[16], dry[16];
    struct rig_why why;
    setenv("XDG_STATE_HOME", folder, 1);          /* used only on a host without a machine id */
    snprintf(id_path, sizeof id_path, "%s/rigcall/host-id", folder);
    snprintf(state_path, sizeof state_path, "%s/rigcall", folder);
    assert_int_equal(sacn_cid_live("Harbour Lanterns", first, &why), 0);
    assert_int_equal(sacn_cid_live("Harbour Lanterns", again, &why), 0);
    assert_int_equal(sacn_cid_live("Other", other, &why), 0);
    sacn_cid_dry("Harbour Lanterns", dry);
    assert_memory_equal(first, again, 16);
    assert_memory_not_equal(first, other, 16);
    assert_memory_not_equal(first, dry, 16);
    assert_int_equal(first[6] >> 4, 5);           /* RFC 4122 4.1.3: version 5 */
    assert_int_equal(first[8] >> 6, 2);           /* 4.1.1: variant 10 */
}

static void machine_id_is_taken(void **state)
{
    (void)state;
    char text[37];
    put(machine_path, "0123456789abcdef0123456789abcdef\n");
    assert_int_equal(sacn__host_id(machine_path, state_path, text, NULL), 0);
    assert_string_equal(text, "0123456789abcdef0123456789abcdef");
    assert_int_equal(access(state_path, F_OK), -1);
}

/* machine-id(5): a fresh image has it empty or "uninitialized"; all zeros is not a valid id. */
static void bad_machine_ids_are_passed_over(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "", "uninitialized\n", "00000000000000000000000000000000\n", "0123456789abcdef0123456789abcde\n",
        "0123456789abcdef0123456789abcdefa\n", "0123456789ABCDEF0123456789abcdef\n"
    };
    char first[37] = "", text[37];
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        put(machine_path, bad[i]);
        assert_int_equal(sacn__host_id(machine_path, state_path, text, NULL), 0);
        assert_int_equal(strlen(text), 36);
        if (i == 0)
            strcpy(first, text);
        assert_string_equal(text, first);         /* kept from the first time on */
    }
}

static void random_id_is_kept_privately(void **state)
{
    (void)state;
    struct stat info;
    char first[37], again[37];
    uuid_t id;
    assert_int_equal(sacn__host_id(machine_path, state_path, first, NULL), 0);
    assert_int_equal(sacn__host_id(machine_path, state_path, again, NULL), 0);
    assert_string_equal(first, again);
    assert_int_equal(uuid_parse(first, id), 0);
    assert_int_equal(stat(state_path, &info), 0);
    assert_int_equal(info.st_mode & 0777, 0700);
    assert_int_equal(stat(id_path, &info), 0);
    assert_int_equal(info.st_mode & 0777, 0600);
    assert_int_equal(info.st_size, 37);
    int files = 0;
    DIR *entries = opendir(state_path);
    assert_non_null(entries);
    for (struct dirent *entry; (entry = readdir(entries));)
        files += entry->d_name[0] != '.';
    closedir(entries);
    assert_int_equal(files, 1);                   /* nothing half-made beside it */
}

static void spoilt_kept_id_is_an_error(void **state)
{
    (void)state;
    struct rig_why why;
    char text[37], expected[RIG_WHY_TEXT];
    assert_int_equal(sacn__host_id(machine_path, state_path, text, NULL), 0);
    put(id_path, "not an id\n");
    assert_int_equal(sacn__host_id(machine_path, state_path, text, &why), RIG_EIO);
    snprintf(expected, sizeof expected, "%s: 'not an id' found, a UUID expected; remove the file to have a new one made", id_path);
    assert_string_equal(why.text, expected);
}

static void folder_that_cannot_be_made_is_an_error(void **state)
{
    (void)state;
    struct rig_why why;
    char text[37], path[192], expected[RIG_WHY_TEXT];
    put(machine_path, "");
    snprintf(path, sizeof path, "%s/below", machine_path);         /* below a file */
    assert_int_equal(sacn__host_id(machine_path, path, text, &why), RIG_EIO);
    snprintf(expected, sizeof expected, "%s/host-id: Not a directory", path);
    assert_string_equal(why.text, expected);
}

#define IN_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(dry_cid_is_the_uuid_of_the_name),
        IN_FOLDER(live_cid_is_steady_and_differs_by_show),
        IN_FOLDER(machine_id_is_taken),
        IN_FOLDER(bad_machine_ids_are_passed_over),
        IN_FOLDER(random_id_is_kept_privately),
        IN_FOLDER(spoilt_kept_id_is_an_error),
        IN_FOLDER(folder_that_cannot_be_made_is_an_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
