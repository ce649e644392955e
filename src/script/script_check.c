/* Rules: one host each, several at a time. What they say is kept a script and handed over in the order of the scripts, so that
 * a race between hosts shows nowhere. */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "rigcall/nearest.h"
#include "script_internal.h"

#define JOBS_MOST 8
#define RECORDS_A_TURN 4096          /* then another host has its turn */

struct kept_finding { enum severity severity; struct subject subject; struct subject *others; uint32_t other_count; char *text; };

/* One script of a check. */
struct rule_job {
    const struct script *script;
    struct script_process process;
    struct script_about about;
    bool started, over;
    bool loaded;                     /* it has said what it is */
    bool skipped;                    /* a lib, or not among `only` */
    bool failed, drop;               /* drop: how far it got was chance, so what it found is not shown */
    char failure[RIG_WHY_TEXT];
    struct kept_finding *findings; size_t finding_count, finding_room;
    uint64_t more; enum severity more_severity;
    char **lines; size_t line_count;
};

struct check {
    const struct show *show;
    const struct check_options *options;
    struct rule_job *jobs;
    size_t count, next, running, done;
    struct script_libs libs;
    bool no_memory;
};

static void fail_job(struct rule_job *job, const char *text, bool drop)
{
    job->failed = true;
    job->drop = drop;
    snprintf(job->failure, sizeof job->failure, "%s", text);
}

static void finish(struct check *check, struct rule_job *job)
{
    script__process_end(&job->process, "");
    if (job->process.end.code && !job->failed)
        fail_job(job, job->process.end.text, true);
    script__process_fini(&job->process);
    job->over = true;
    check->running--;
    check->done++;
}

static void keep_line(struct check *check, struct rule_job *job, const char *text)
{
    if (job->line_count > LINK_PRINTS) {
        script__process_refuse(&job->process, "more lines of print than are allowed");
        return;
    }
    if (!job->lines)
        job->lines = calloc(LINK_PRINTS + 1, sizeof *job->lines);
    if (!job->lines || !(job->lines[job->line_count] = strdup(text)))
        check->no_memory = true;
    else
        job->line_count++;
}

static void keep_finding(struct check *check, struct rule_job *job, const struct link_record *record)
{
    if (job->finding_count == SCRIPT_FINDINGS) {
        script__process_refuse(&job->process, "more findings than are allowed");
        return;
    }
    if (job->finding_count == job->finding_room) {
        size_t room = job->finding_room ? job->finding_room * 2 : 32;
        void *grown = realloc(job->findings, room * sizeof *job->findings);
        if (!grown) {
            check->no_memory = true;
            return;
        }
        job->findings = grown;
        job->finding_room = room;
    }
    struct kept_finding kept = { record->severity, record->subject, NULL, record->other_count, strdup(record->text) };
    if (kept.other_count && (kept.others = malloc(kept.other_count * sizeof *kept.others)))
        memcpy(kept.others, record->others, kept.other_count * sizeof *kept.others);
    if (!kept.text || (kept.other_count && !kept.others)) {
        free(kept.text);
        free(kept.others);
        check->no_memory = true;
        return;
    }
    job->findings[job->finding_count++] = kept;
}

static bool wanted(const struct check_options *options, const char *name)
{
    for (size_t i = 0; i < options->only_count; i++)
        if (!strcmp(options->only[i], name))
            return true;
    return options->only_count == 0;
}

/* A script has said what it is: let it run, or leave it. @return true when it runs */
static bool judge_kind(struct check *check, struct rule_job *job, const struct script_about *about)
{
    job->about = *about;
    job->loaded = true;
    job->skipped = about->kind == SCRIPT_LIB || !wanted(check->options, about->name);
    if (!job->skipped && about->kind != SCRIPT_RULE) {
        char text[64];
        snprintf(text, sizeof text, "is a %s, not a rule", script_kind_name(about->kind));
        fail_job(job, text, true);
    }
    return !job->skipped && !job->failed;
}

/* @return false when the job is over */
static bool take_record(struct check *check, struct rule_job *job, const struct link_record *record)
{
    switch (record->op) {
    case LINK_ABOUT:
        if (!judge_kind(check, job, record->about))
            return false;
        script__process_burst(&job->process, link_run_limit_s(SCRIPT_RULE, check->show->fixture_count));
        script__process_reply(&job->process, LINK_GO, 0, CREW_SKIP, NULL);
        return true;
    case LINK_FINDING:
        keep_finding(check, job, record);
        return true;
    case LINK_PRINT:
        keep_line(check, job, record->text);
        return true;
    case LINK_ERROR:
        fail_job(job, record->text, record->limit);
        return false;
    default:                         /* LINK_DONE: others are not allowed to a rule */
        job->more = record->more;
        job->more_severity = record->severity;
        return false;
    }
}

static void turn(struct check *check, struct rule_job *job)
{
    struct link_record record;
    for (int i = 0; i < RECORDS_A_TURN; i++) {
        switch (script__process_next(&job->process, job->loaded ? LINK_ALLOW_RULE : LINK_ALLOW_LOAD, &record)) {
        case SCRIPT_IDLE:
            return;
        case SCRIPT_ENDED:
            finish(check, job);
            return;
        case SCRIPT_RECORD:
            if (!take_record(check, job, &record)) {
                finish(check, job);
                return;
            }
        }
    }
}

static int start_next(struct check *check, struct rig_why *why)
{
    struct rule_job *job = &check->jobs[check->next];
    if (job->script->trouble) {
        fail_job(job, job->script->trouble, true);
        job->over = true;
        check->next++;
        check->done++;
        return 0;
    }
    struct host_start start = { .show = check->show, .before = check->options->before, .script = job->script,
                                .before_trouble = check->options->before_trouble, .libs = check->libs.offered,
                                .wire = check->options->wire };
    start.lib_count = script__libs_offer(&check->libs, job->script);
    start.cpu_backstop_s = (unsigned)(link_load_limit_s() + link_run_limit_s(SCRIPT_RULE, check->show->fixture_count)) + 2;
    int err = script__process_start(&job->process, &start, why);
    if (err)
        return err;
    job->started = true;
    check->next++;
    check->running++;
    return 0;
}

static int run_all(struct check *check, unsigned at_a_time, struct rig_why *why)
{
    struct pollfd fds[JOBS_MOST];
    while (check->next < check->count || check->running) {
        while (check->running < at_a_time && check->next < check->count) {
            int err = start_next(check, why);
            if (err)
                return err;
        }
        nfds_t waiting = 0;
        for (size_t i = 0; i < check->next; i++)
            if (!check->jobs[i].over)
                fds[waiting++] = (struct pollfd){ check->jobs[i].process.fd, POLLIN, 0 };
        poll(fds, waiting, SCRIPT_POLL_MS);
        for (size_t i = 0; i < check->next; i++)
            if (!check->jobs[i].over)
                turn(check, &check->jobs[i]);
        if (check->options->progress)
            check->options->progress(check->options->context, check->done, check->count);
        if (check->no_memory)
            return rig_fail(why, RIG_ENOMEM, "no memory for what the rules find");
    }
    return 0;
}

/* A name that an earlier script has said already belongs to that one. */
static void refuse_repeats(struct check *check)
{
    for (size_t i = 0; i < check->count; i++)
        for (size_t k = 0; k < i && check->jobs[i].loaded; k++) {
            struct rule_job *late = &check->jobs[i], *early = &check->jobs[k];
            if (late->skipped || !early->loaded || early->skipped || strcmp(early->about.name, late->about.name))
                continue;
            char text[RIG_WHY_TEXT];
            snprintf(text, sizeof text, "repeats the name of %.400s, so it is left out", early->script->path);
            fail_job(late, text, true);
            break;
        }
}

static const char *rule_name(const void *context, size_t i)
{
    const struct check *check = context;
    for (size_t k = 0; k < check->count; k++)
        if (check->jobs[k].loaded && check->jobs[k].about.kind == SCRIPT_RULE && i-- == 0)
            return check->jobs[k].about.name;
    return NULL;
}

/* Every name of `only` must be a rule's; a script that did not load may be meant by its file name. */
static int find_only(const struct check *check, struct rig_why *why)
{
    for (size_t i = 0; i < check->options->only_count; i++) {
        const char *only = check->options->only[i], *broken = NULL;
        bool found = false;
        for (size_t k = 0; k < check->count && !found; k++) {
            const struct rule_job *job = &check->jobs[k];
            found = !strcmp(job->loaded ? job->about.name : job->script->stem, only)
                    && !(job->loaded && job->about.kind == SCRIPT_LIB);
            if (!job->loaded)
                broken = job->script->path;
        }
        if (found)
            continue;
        const char *nearest = nearest_name(only, rule_name, check);
        return rig_fail(why, RIG_EUSAGE, "no rule is called \"%s\"%s%s%s%s%s", only, nearest ? "; the nearest is \"" : "",
                        nearest ? nearest : "", nearest ? "\"" : "", broken ? "; a script that does not load: " : "",
                        broken ? broken : "");
    }
    return 0;
}

static int hand_over_job(const struct check *check, struct rule_job *job, struct findings *findings)
{
    const char *name = job->loaded ? job->about.name : job->script->stem;
    int err = 0;
    for (size_t i = 0; i < job->line_count && check->options->printed; i++)
        check->options->printed(check->options->context, name, job->lines[i]);
    if (job->skipped || (!job->loaded && !wanted(check->options, job->script->stem)))
        return 0;
    if (job->failed) {
        char clean_name[256], clean_path[1024];       /* file names are other people's, too */
        link_text(clean_name, sizeof clean_name, name, strlen(name));
        link_text(clean_path, sizeof clean_path, job->script->path, strlen(job->script->path));
        err = findings_add_failure(findings, clean_name, clean_path, job->failure);
    }
    if (err || job->drop)
        return err;
    if (!job->failed)
        err = findings_add_rule(findings, name, job->about.about);
    for (size_t i = 0; i < job->finding_count && !err; i++) {
        const struct kept_finding *kept = &job->findings[i];
        struct finding finding = { name, kept->severity, kept->subject, kept->others, kept->other_count, kept->text };
        err = findings_add(findings, &finding);
    }
    if (!err && job->more)
        err = findings_add_more(findings, name, job->more_severity, job->more);
    return err;
}

static void check_fini(struct check *check)
{
    for (size_t i = 0; i < check->count; i++) {
        struct rule_job *job = &check->jobs[i];
        if (job->started && !job->over)
            script__process_fini(&job->process);
        for (size_t k = 0; k < job->finding_count; k++) {
            free(job->findings[k].others);
            free(job->findings[k].text);
        }
        for (size_t k = 0; k < job->line_count; k++)
            free(job->lines[k]);
        free(job->findings);
        free(job->lines);
    }
    free(check->jobs);
    script__libs_fini(&check->libs);
}

static unsigned job_count(unsigned wanted_jobs)
{
    long processors = sysconf(_SC_NPROCESSORS_ONLN);
    unsigned jobs = wanted_jobs ? wanted_jobs : processors > 0 ? (unsigned)processors : 1;
    return jobs < JOBS_MOST ? jobs : JOBS_MOST;
}

int script_check(const struct show *show, const struct check_options *options, struct findings *findings, struct rig_why *why)
{
    struct check check = { .show = show, .options = options, .count = options->script_count };
    int err = 0;
    if (check.count == 0 && options->only_count == 0)
        return 0;
    check.jobs = calloc(check.count ? check.count : 1, sizeof *check.jobs);
    if (!check.jobs)
        return rig_fail(why, RIG_ENOMEM, "no memory for %zu scripts", check.count);
    for (size_t i = 0; i < check.count; i++)
        check.jobs[i].script = &options->scripts[i];
    err = run_all(&check, job_count(options->jobs), why);
    if (!err)
        err = find_only(&check, why);
    if (!err)
        refuse_repeats(&check);
    for (size_t i = 0; i < check.count && !err; i++)
        if ((err = hand_over_job(&check, &check.jobs[i], findings)))
            rig_fail(why, err, "no memory for what the rules find");
    check_fini(&check);
    return err;
}
