/* What the guard lets through only when a person at the terminal has said so. */
#include <errno.h>
#include <fcntl.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "paths.h"
#include "run.h"

static const char flash_text[] =
    "Strobe slots will go out at their defaults, and may flash.\n"
    "Flashing light can bring on seizures in people with photosensitive epilepsy. Make sure that everybody who can see the\n"
    "rig knows, and that you may do this here.";

static int find_armed(const struct options *options, const struct show *show, struct confirmed *out, struct rig_why *why)
{
    char **ids = NULL;
    size_t count = 0;
    int err = options_list(options, "arm", &ids, &count, why);
    if (!err && count && !(out->armed = calloc(count, sizeof *out->armed)))
        err = rig_fail(why, RIG_ENOMEM, "out of memory");
    for (size_t i = 0; !err && i < count; i++) {
        uint32_t index = show_find(show, SUBJECT_FIXTURE, ids[i]);
        char name[256];
        if (index == SHOW_UNKNOWN) {
            err = rig_fail(why, RIG_EUSAGE, "--arm: the show has no fixture \"%s\"", ids[i]);
            break;
        }
        const struct type *type = fixture_type(show, &show->fixtures[index]);
        show_describe(show, SUBJECT_FIXTURE, index, name, sizeof name);
        if (!type || type->hazard == HAZARD_NONE)
            err = rig_fail(why, RIG_EUSAGE, "--arm: %s has no hazard, there is nothing to arm", name);
        else
            out->armed[out->armed_count++] = index;
    }
    options_list_free(ids, count);
    return err;
}

static char *arm_text(const struct show *show, const struct confirmed *confirmed)
{
    char *text = NULL, name[256];
    size_t length = 0;
    FILE *out = open_memstream(&text, &length);
    if (!out)
        return NULL;
    for (uint32_t i = 0; i < confirmed->armed_count; i++) {
        const struct fixture *fixture = &show->fixtures[confirmed->armed[i]];
        show_describe(show, SUBJECT_FIXTURE, confirmed->armed[i], name, sizeof name);
        fprintf(out, "%s: hazard %s\n", name, hazard_name(fixture_type(show, fixture)->hazard));
    }
    fprintf(out, "The sequence may drive %s. Make sure that nobody can be hurt, and that somebody watches.",
            confirmed->armed_count == 1 ? "it" : "them");
    return fclose(out) ? NULL : text;
}

static json_t *log_entry(const char *what, const struct show *show, const char *sequence, bool live,
                         const struct confirmed *confirmed)
{
    char when[32];
    time_t now = time(NULL);
    struct tm utc;
    strftime(when, sizeof when, "%Y-%m-%dT%H:%M:%SZ", gmtime_r(&now, &utc));
    json_t *fixtures = json_array();
    for (uint32_t i = 0; i < confirmed->armed_count && !strcmp(what, "arm"); i++)
        json_array_append_new(fixtures, json_integer(show->fixtures[confirmed->armed[i]].id));
    return json_pack("{s:s, s:s, s:s, s:s, s:s, s:I, s:o}", "time", when, "confirmed", what, "show", show->name ? show->name : "",
                     "sequence", sequence, "run", live ? "live" : "dry", "uid", (json_int_t)getuid(), "fixtures", fixtures);
}

/* One JSON object a line, in one write, so that two runs at once do not mix. */
static int append_log(json_t *entry, struct rig_why *why)
{
    char folder[4096], path[4096];
    int err = path_state(folder, sizeof folder, why);
    if (!err)
        err = path_join(folder, "guard.log", path, sizeof path, why);
    if (err)
        return err;
    char *line = entry ? json_dumps(entry, JSON_COMPACT) : NULL;
    if (!line)
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    size_t length = strlen(line);
    line[length] = '\n';              /* in place of the NUL */
    int file = open(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (file < 0 || write(file, line, length + 1) != (ssize_t)length + 1 || fsync(file))
        err = rig_fail(why, RIG_EIO, "%s: %s; what is not logged is not armed", path, strerror(errno));
    if (file >= 0)
        close(file);
    free(line);
    return err;
}

static int ask_and_log(const char *what, const char *option, const char *text, const struct options *options, const struct show *show,
                       const char *sequence, struct terminal *terminal, const struct confirmed *confirmed, struct rig_why *why)
{
    if (terminal->fd < 0)
        return rig_fail(why, RIG_EGUARD, "%s must be confirmed by a person at a terminal, and there is none", option);
    if (!terminal_confirm(terminal, text, what))
        return rig_fail(why, RIG_EGUARD, "%s is not confirmed, nothing has started", option);
    json_t *entry = log_entry(what, show, sequence, options_has(options, "live"), confirmed);
    int err = append_log(entry, why);
    json_decref(entry);
    return err;
}

int guard_confirm(const struct options *options, const struct show *show, const char *sequence, struct terminal *terminal,
                  struct confirmed *out, struct rig_why *why)
{
    *out = (struct confirmed){ 0 };
    int err = find_armed(options, show, out, why);
    if (!err && out->armed_count) {
        char *text = arm_text(show, out);
        err = text ? ask_and_log("arm", "--arm", text, options, show, sequence, terminal, out, why)
                   : rig_fail(why, RIG_ENOMEM, "out of memory");
        free(text);
    }
    if (!err && options_has(options, "allow-flash")) {
        err = ask_and_log("flash", "--allow-flash", flash_text, options, show, sequence, terminal, out, why);
        out->allow_flash = !err;
    }
    return err;
}

void guard_confirmed_fini(struct confirmed *confirmed)
{
    free(confirmed->armed);
    confirmed->armed = NULL;
}
