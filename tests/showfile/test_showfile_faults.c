/* Memory runs out and system calls fail at every place where they can: one clear error, nothing leaked, no file damaged.
 * The linker puts the __wrap_ functions below between the library and the C library (tests.cmake). */
#include <dirent.h>
#include <errno.h>
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

#include "showfile/csv_internal.h"

#define HARBOUR RIGCALL_SOURCE_DIR "/tests/showfile/harbour.show.lua"

static long memory_left = -1, calls_left = -1;       /* -1: never fail; 0: the next one fails, and only that one */
static const char *watched;                          /* a file that must be there whenever a call is made */
static int watched_gone;

static bool fails(long *left)
{
    if (*left < 0)
        return false;
    return (*left)-- == 0;
}

static bool call_fails(int error)
{
    if (watched && access(watched, F_OK) != 0)
        watched_gone++;
    if (!fails(&calls_left))
        return false;
    errno = error;
    return true;
}

void *__real_malloc(size_t size);
void *__wrap_malloc(size_t size);
void *__wrap_malloc(size_t size) { return fails(&memory_left) ? NULL : __real_malloc(size); }
void *__real_calloc(size_t count, size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_calloc(size_t count, size_t size) { return fails(&memory_left) ? NULL : __real_calloc(count, size); }
void *__real_realloc(void *old, size_t size);
void *__wrap_realloc(void *old, size_t size);
void *__wrap_realloc(void *old, size_t size) { return fails(&memory_left) ? NULL : __real_realloc(old, size); }
void *__real_reallocarray(void *old, size_t count, size_t size);
void *__wrap_reallocarray(void *old, size_t count, size_t size);
void *__wrap_reallocarray(void *old, size_t count, size_t size) { return fails(&memory_left) ? NULL : __real_reallocarray(old, count, size); }
char *__real_strdup(const char *text);
char *__wrap_strdup(const char *text);
char *__wrap_strdup(const char *text) { return fails(&memory_left) ? NULL : __real_strdup(text); }
char *__real_strndup(const char *text, size_t length);
char *__wrap_strndup(const char *text, size_t length);
char *__wrap_strndup(const char *text, size_t length) { return fails(&memory_left) ? NULL : __real_strndup(text, length); }

int __real_open(const char *path, int flags, ...);
int __wrap_open(const char *path, int flags, ...);
int __wrap_open(const char *path, int flags, ...) { return call_fails(EACCES) ? -1 : __real_open(path, flags); }
int __real_mkostemp(char *template, int flags);
int __wrap_mkostemp(char *template, int flags);
int __wrap_mkostemp(char *template, int flags) { return call_fails(EROFS) ? -1 : __real_mkostemp(template, flags); }
ssize_t __real_write(int fd, const void *bytes, size_t length);
ssize_t __wrap_write(int fd, const void *bytes, size_t length);
ssize_t __wrap_write(int fd, const void *bytes, size_t length) { return call_fails(ENOSPC) ? -1 : __real_write(fd, bytes, length); }
int __real_fchmod(int fd, mode_t mode);
int __wrap_fchmod(int fd, mode_t mode);
int __wrap_fchmod(int fd, mode_t mode) { return call_fails(EPERM) ? -1 : __real_fchmod(fd, mode); }
int __real_fsync(int fd);
int __wrap_fsync(int fd);
int __wrap_fsync(int fd) { return call_fails(EIO) ? -1 : __real_fsync(fd); }
int __real_close(int fd);
int __wrap_close(int fd);
int __wrap_close(int fd)
{
    int err = __real_close(fd);
    return call_fails(EDQUOT) ? -1 : err;
}
int __real_link(const char *from, const char *to);
int __wrap_link(const char *from, const char *to);
int __wrap_link(const char *from, const char *to) { return call_fails(EMLINK) ? -1 : __real_link(from, to); }
int __real_rename(const char *from, const char *to);
int __wrap_rename(const char *from, const char *to);
int __wrap_rename(const char *from, const char *to) { return call_fails(EBUSY) ? -1 : __real_rename(from, to); }

/* ---- memory ---- */

static char *harbour;
static size_t harbour_length;
static struct show *show;
static const char rows[] = "id,name,type,mode,site,tags\n101,\"Rail, new\",batten12,cells,quay,a b c\n102,Two,batten12,cells,quay,d\n";
static const char bad_rows[] = "id,name,air\n101,x,triple\nx,,\n";

static int parse_all(struct rig_why *why)
{
    struct show *other;
    int err = showfile_parse("a", harbour, harbour_length, &other, why);
    show_free(other);
    return err;
}

static int load_file(struct rig_why *why)
{
    struct show *other;
    int err = showfile_load(HARBOUR, &other, why);
    show_free(other);
    return err;
}

static int parse_hard(struct rig_why *why)
{
    static const char text[] = "return { rigcall = 1, name = 'a\\n\\u{41}b', x_a = { b = [[\r\nc]], ['d e'] = { 1.25, true } }, x_b = 2 }";
    struct show *other;
    int err = showfile_parse("a", text, sizeof text - 1, &other, why);
    show_free(other);
    return err == RIG_EINPUT ? 0 : err;              /* the line end in the name is refused in the end */
}

static int format(struct rig_why *why)
{
    char *text;
    size_t length;
    int err = showfile_format(show, &text, &length, why);
    free(text);
    return err;
}

static int export_rows(struct rig_why *why)
{
    char *text;
    size_t length;
    int err = csv_export(show, CSV_FIXTURES, &text, &length, why);
    free(text);
    return err;
}

static int import_text(const char *text, size_t length, struct rig_why *why)
{
    char copy[256];
    struct show *other;
    struct csv_report report;
    memcpy(copy, text, length);
    int err = showfile__csv_import(show, CSV_FIXTURES, "a.csv", copy, length, &other, &report, why);
    show_free(other);
    csv_report_free(&report);
    return err;
}

static int import_rows(struct rig_why *why)
{
    return import_text(rows, sizeof rows - 1, why);
}

static int import_bad_rows(struct rig_why *why)
{
    int err = import_text(bad_rows, sizeof bad_rows - 1, why);
    return err == RIG_EINPUT ? 0 : err;
}

/* Fail the first allocation, then the second, and so on until the work is done without one that fails. */
static void sweep(int (*work)(struct rig_why *why))
{
    long at = 0;
    int err;
    do {
        struct rig_why why = { 0 };
        memory_left = at++;
        err = work(&why);
        bool reached = memory_left < 0;
        memory_left = -1;
        if (!reached)
            break;
        assert_int_equal(err, RIG_ENOMEM);
        assert_int_equal(why.code, RIG_ENOMEM);
        assert_non_null(strstr(why.text, "out of memory"));
    } while (at < 100000);
    assert_int_equal(err, 0);
    assert_true(at > 1);
}

static void memory_may_run_out_anywhere(void **state)
{
    (void)state;
    assert_int_equal(showfile_read(HARBOUR, SHOWFILE_BYTES, &harbour, &harbour_length, NULL), 0);
    assert_int_equal(showfile_parse("a", harbour, harbour_length, &show, NULL), 0);
    sweep(parse_all);
    sweep(parse_hard);
    sweep(load_file);
    sweep(format);
    sweep(export_rows);
    sweep(import_rows);
    sweep(import_bad_rows);
    free(harbour);
    show_free(show);
}

/* ---- files ---- */

static char folder[64], path[128], kept[160];

static int set_up(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/rigcall-test-XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    snprintf(path, sizeof path, "%s/a.show.lua", folder);
    snprintf(kept, sizeof kept, "%s~", path);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    calls_left = -1;
    watched = NULL;
    unlink(path);
    unlink(kept);
    return rmdir(folder);             /* fails if anything else was left behind */
}

static void put_file(const char *name, const char *text)
{
    FILE *file = fopen(name, "w");
    assert_non_null(file);
    fputs(text, file);
    fclose(file);
}

static void expect_file(const char *name, const char *text)
{
    char *found;
    size_t length;
    assert_int_equal(showfile_read(name, 1000, &found, &length, NULL), 0);
    assert_string_equal(found, text);
    free(found);
}

static int entries(void)
{
    DIR *listing = opendir(folder);
    int count = 0;
    assert_non_null(listing);
    for (struct dirent *entry; (entry = readdir(listing)); )
        count += strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
    closedir(listing);
    return count;
}

static void a_call_that_fails_leaves_the_old_file(void **state)
{
    (void)state;
    long at = 0;
    bool reached = true;
    for (; reached; at++) {
        struct rig_why why = { 0 };
        put_file(path, "old");
        unlink(kept);
        watched = path;
        calls_left = at;
        int err = showfile_replace(path, "new", 3, true, &why);
        reached = calls_left < 0;
        calls_left = -1;
        watched = NULL;
        assert_int_equal(watched_gone, 0);
        bool synced_late = err && strstr(why.text, "written, but the folder could not be synced to disk");
        if (err && !synced_late) {
            assert_int_equal(err, RIG_EIO);
            assert_memory_equal(why.text, path, strlen(path));
            expect_file(path, "old");
        } else {
            expect_file(path, "new");
            expect_file(kept, "old");
        }
        assert_int_equal(entries(), 1 + (access(kept, F_OK) == 0));
    }
    assert_true(at > 8);
}

static void a_new_file_that_cannot_be_made_leaves_nothing(void **state)
{
    (void)state;
    for (long at = 0; at < 4; at++) {                /* mkostemp, write, fchmod, fsync */
        static const char *const doing[] = { "Read-only file system", "No space left on device", "Operation not permitted", "Input/output error" };
        char expected[300];
        struct rig_why why;
        calls_left = at;
        assert_int_equal(showfile_replace(path, "new", 3, true, &why), RIG_EIO);
        calls_left = -1;
        snprintf(expected, sizeof expected, "%s: cannot write a new file beside it: %s", path, doing[at]);
        assert_string_equal(why.text, expected);
        assert_int_equal(entries(), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(memory_may_run_out_anywhere),
        cmocka_unit_test_setup_teardown(a_call_that_fails_leaves_the_old_file, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_new_file_that_cannot_be_made_leaves_nothing, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
