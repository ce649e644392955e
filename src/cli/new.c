#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cli.h"
#include "rigcall/model.h"

#define SUFFIX ".show.lua"

static const char template_text[] =
"-- A rigcall show file: plain data in Lua's notation. rigcall reads it and runs nothing in it.\n"
"-- Change it by hand or by CSV (rigcall import). When rigcall writes this file it does not keep comments;\n"
"-- every object may have a note = \"...\", which it keeps.\n"
"return {\n"
"  rigcall = 1, name = \"@NAME@\",\n"
"  -- call: hours that the fixtures must last on battery, at this mean level in per cent\n"
"  call = { hours = 6, level = 50 },\n"
"  sites = {\n"
"    { id = \"main\", name = \"Main area\" },\n"
"  },\n"
"  -- quiet bands that other departments need, in MHz: quiet = { { from = 2402, to = 2423, who = \"camera link\" } },\n"
"  types = {\n"
"    -- A fixture takes head + cells * slots + tail: here 4 * 4 = 16 slots.\n"
"    { id = \"bar4\", name = \"Battery bar, 4 cells\", airs = { \"single\", \"dual\" }, watts = 20, battery_wh = 120,\n"
"      modes = {\n"
"        { id = \"cells\", head = {}, cells = 4, slots = { \"intensity\", \"red\", \"green\", \"blue\" }, tail = {} },\n"
"      } },\n"
"  },\n"
"  transmitters = {\n"
"    -- One radio in air mode \"dual\" carries two universes: lanes 1 and 2. The join code was drawn for this show.\n"
"    { id = \"T1\", name = \"Main transmitter\", site = \"main\", radios = 1, airs = { \"single\", \"dual\" }, air = \"dual\",\n"
"      code = \"@CODE@\", lanes = { { lane = 1, universe = 1 }, { lane = 2, universe = 2 } } },\n"
"    { id = \"S1\", name = \"Spare\", site = \"main\", radios = 1, airs = { \"single\", \"dual\" }, air = \"dual\", spare = true },\n"
"  },\n"
"  universes = {\n"
"    { id = 1, label = \"Main bars\" },\n"
"    { id = 2, label = \"Side bars\" },\n"
"  },\n"
"  fixtures = {\n"
"    { id = 101, name = \"Main 1\", type = \"bar4\", mode = \"cells\", site = \"main\",\n"
"      universe = 1, address = 1, code = \"@CODE@\", air = \"dual\", lane = 1 },\n"
"    { id = 102, name = \"Main 2\", type = \"bar4\", mode = \"cells\", site = \"main\",\n"
"      universe = 1, address = 17, code = \"@CODE@\", air = \"dual\", lane = 1 },\n"
"    { id = 201, name = \"Side 1\", type = \"bar4\", mode = \"cells\", site = \"main\",\n"
"      universe = 2, address = 1, code = \"@CODE@\", air = \"dual\", lane = 2 },\n"
"  },\n"
"}\n";

/* All one digit, or a run up or down: what the rule code-guessable warns of. */
static bool guessable(const char code[9])
{
    int step = code[1] - code[0];
    for (int i = 2; i < 8; i++)
        if (code[i] - code[i - 1] != step)
            return false;
    return step >= -1 && step <= 1;
}

/* A code of its own for every show: two crews with the template's code side by side would join each other's fixtures. */
static int draw_code(char code[9], struct rig_why *why)
{
    do {
        uint32_t number;
        do {                          /* the highest stretch would make low codes likelier */
            if (getrandom(&number, sizeof number, 0) != sizeof number)
                return rig_fail(why, RIG_EIO, "no random number for the join code: %s", strerror(errno));
        } while (number >= UINT32_MAX / 100000000u * 100000000u);
        snprintf(code, 9, "%08u", (unsigned)(number % 100000000u));
    } while (guessable(code));
    return 0;
}

static void put_lua_text(FILE *out, const char *text)
{
    for (; *text; text++) {
        if (*text == '"' || *text == '\\')
            fputc('\\', out);
        fputc(*text, out);
    }
}

static int fill_template(const char *name, const char *code, char **out, size_t *length, struct rig_why *why)
{
    FILE *stream = open_memstream(out, length);
    if (!stream)
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    for (const char *c = template_text; *c; c++) {
        if (!strncmp(c, "@NAME@", 6)) {
            put_lua_text(stream, name);
            c += 5;
        } else if (!strncmp(c, "@CODE@", 6)) {
            fputs(code, stream);
            c += 5;
        } else
            fputc(*c, stream);
    }
    return fclose(stream) ? rig_fail(why, RIG_ENOMEM, "out of memory") : 0;
}

static bool write_all(int file, const char *bytes, size_t length)
{
    while (length) {
        ssize_t written = write(file, bytes, length);
        if (written < 0)
            return false;
        bytes += written;
        length -= (size_t)written;
    }
    return fsync(file) == 0;
}

/* A link is made only to a whole file and never over an existing one. */
static int create(const char *path, const char *bytes, size_t length, struct rig_why *why)
{
    char work[4096];
    if (snprintf(work, sizeof work, "%s.XXXXXX", path) >= (int)sizeof work)
        return rig_fail(why, RIG_EUSAGE, "path too long: %.200s", path);
    int err = 0, file = mkstemp(work);
    if (file < 0)
        return rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    mode_t mask = umask(0);           /* mkstemp lets nobody else read; a show is a file like any other */
    umask(mask);
    if (!write_all(file, bytes, length) || fchmod(file, 0666 & ~mask))
        err = rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    else if (link(work, path))
        err = errno == EEXIST ? rig_fail(why, RIG_EIO, "%s: exists already, nothing is overwritten", path)
                              : rig_fail(why, RIG_EIO, "%s: %s", path, strerror(errno));
    close(file);
    unlink(work);
    return err;
}

static int check_name(const char *name, struct rig_why *why)
{
    if (!*name)
        return rig_fail(why, RIG_EUSAGE, "new: the show needs a name");
    if (utf8_check(name, strlen(name)) < strlen(name))
        return rig_fail(why, RIG_EUSAGE, "new: the name is not UTF-8");
    for (const char *c = name; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            return rig_fail(why, RIG_EUSAGE, "new: control characters in the name");
    return 0;
}

static int run_new(const struct options *options)
{
    struct rig_why why;
    char path[4096], code[9], *bytes = NULL;
    const char *given = options->words[0];
    size_t length = strlen(given), suffix = strlen(SUFFIX), size = 0;
    if (length > suffix && !strcmp(given + length - suffix, SUFFIX))
        length -= suffix;
    if (snprintf(path, sizeof path, "%.*s", (int)length, given) >= (int)(sizeof path - 32))
        return say_usage("new: path too long");
    const char *name = strrchr(path, '/') ? strrchr(path, '/') + 1 : path;
    int err = check_name(name, &why);
    if (!err)
        err = draw_code(code, &why);
    if (!err)
        err = fill_template(name, code, &bytes, &size, &why);
    strcat(path, SUFFIX);
    if (!err)
        err = create(path, bytes, size, &why);
    free(bytes);
    if (err)
        return say_failure(&why);
    printf("%s is written. Open it in an editor and make it yours; then:\n"
           "  rigcall check %s\n"
           "  rigcall run %s colour-roll\n", path, path, path);
    return 0;
}

const struct command command_new = {
    .name = "new",
    .about = "Starts a show from a small commented template.",
    .words = "NAME",
    .words_least = 1, .words_most = 1,
    .details = "Writes NAME.show.lua, with a join code drawn at random. An existing file is never overwritten.",
    .example = "  rigcall new harbour",
    .run = run_new,
};
