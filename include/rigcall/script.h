/* Scripts: found, read, and run in processes of their own (script hosts) that are jailed before they see a byte of the script.
 * This header is the engine's side; no Lua here. Everything a host sends is treated as hostile.
 * A host is a fork of this process: start hosts before threads, and before anything maps memory that is shared and writable. */
#ifndef RIGCALL_SCRIPT_H
#define RIGCALL_SCRIPT_H

#include "rigcall/engine.h"
#include "rigcall/listen.h"
#include "rigcall/plan.h"
#include "rigcall/report.h"

#define SCRIPT_BYTES (64u << 10)     /* longest script file, octets */
#define SCRIPT_FINDINGS 1000         /* of one rule; then one "and M more" */

enum script_kind { SCRIPT_RULE, SCRIPT_SEQUENCE, SCRIPT_SWAP, SCRIPT_SHEET, SCRIPT_LIB };
const char *script_kind_name(enum script_kind kind);

/* A script file, read but not run. */
struct script {
    char *path;
    char *stem;                      /* file name without .lua; the name until the script says its own */
    char *bytes; size_t length;
    char *trouble;                   /* why its bytes are not there, or NULL: such a script of a folder is reported as one that broke */
    bool shipped;                    /* equal to a hash that is compiled in */
};
struct script_list { struct script *items; size_t count; };
void script_list_free(struct script_list *list);

/** Folder of the shipped scripts: $RIGCALL_SCRIPTS, else ../share/rigcall/scripts beside the program, else the source tree it
 * was built from. @param buffer filled. @return 0 or RIG_EIO when none exists */
int script_home(char *buffer, size_t size, struct rig_why *why);

/** Append the .lua files of a folder (sorted by name), or one file.
 * @param must_exist  a missing path is RIG_EIO; otherwise nothing is added
 * @return 0 (in a folder, also for files with `trouble`), RIG_EIO, RIG_EINPUT (over 64 KiB), RIG_ENOMEM */
int script_list_add(struct script_list *list, const char *path, bool must_exist, struct rig_why *why);

/* What a script says of itself once it has loaded (checked, bounded, UTF-8). */
struct script_param {
    char name[33], unit[17], help[161];
    enum { PARAM_NUMBER, PARAM_INTEGER, PARAM_TEXT, PARAM_BOOLEAN, PARAM_CHOICE } type;
    double least, most;              /* NAN when not given */
    char default_text[161];          /* as --set would spell it */
    char choices[161];               /* "a b c" */
};
struct script_about {
    enum script_kind kind;
    char name[65], about[257];
    enum severity severity;          /* of finding(); rules only; default fail */
    struct script_param params[32]; uint32_t param_count;
};

struct script_set { const char *name, *value; };              /* one --set P=V */

/* ---- rules ---- */

struct check_options {
    const struct script *scripts; size_t script_count;        /* in order; libs among them are skipped as rules */
    const char *const *only; size_t only_count;               /* rule names; 0: all */
    const struct show *before;                                /* the kept show before this one, for rig.before(); may be NULL */
    const char *before_trouble;                               /* why there is one that cannot be read; NULL: nothing to say */
    void (*progress)(void *context, size_t done, size_t all); /* may be NULL; called while it waits, too */
    void (*printed)(void *context, const char *script, const char *text);     /* may be NULL: a checked line of print() */
    void *context;                                            /* of both */
    const struct listening *wire;                             /* what rig.wire tells; NULL: nobody has listened. Borrowed */
    unsigned jobs;                                            /* hosts at a time; 0: as many as there are processors, at most 8 */
};
/** Run every rule in a host of its own and collect what they find. A script that breaks is a failure in `findings`, never an
 * error here; all others still run. A name of `only` that no rule has is RIG_EUSAGE with the nearest one.
 * @return 0, RIG_EUSAGE, RIG_EIO (no process or socket to be had), RIG_ENOMEM */
int script_check(const struct show *show, const struct check_options *options, struct findings *findings, struct rig_why *why);

/* ---- sequences ---- */

struct script_sequence;
/** Start a host for a sequence and load it (at most 0.5 s of its CPU time).
 * @param show,script  borrowed until script_sequence_free()
 * @param fixtures  the grant: what rig.fixtures{} of the script sees, in this order
 * @param sets      --set P=V, checked against the script's params: RIG_EUSAGE
 * @return 0, RIG_ESCRIPT (does not load; kind is no sequence), RIG_EUSAGE, RIG_EIO */
int script_sequence_start(const struct show *show, const struct script *script, const uint32_t *fixtures, uint32_t fixture_count,
                          const struct script_set *sets, size_t set_count, struct script_sequence **out, struct rig_why *why);
const struct script_about *script_sequence_about(const struct script_sequence *sequence);
/** The player of this sequence, valid until script_sequence_free(). crew.say() lines go to `said`, print() lines to `printed`.
 * @param said,printed  may be NULL: called with checked text without control characters */
struct engine_player *script_sequence_player(struct script_sequence *sequence, void (*said)(void *context, const char *text),
                                             void (*printed)(void *context, const char *text), void *context);
/** Kills the host if it still runs. NULL is fine. */
void script_sequence_free(struct script_sequence *sequence);

/* ---- swap policies ---- */

struct script_swap_options {
    const struct script *script;
    const struct script_set *sets; size_t set_count;          /* --set P=V, checked against the script's params: RIG_EUSAGE */
    const struct plan *const *plans; uint32_t plan_count;     /* best first; borrowed */
    /* A question of the policy: checked text. @param note  filled, may stay empty. @return 0, or the code to end with, why filled */
    int (*ask)(void *context, const char *question, enum crew_answer *answer, char *note, size_t note_size, struct rig_why *why);
    void (*printed)(void *context, const char *text);         /* may be NULL: a checked line of print() */
    void *context;                                            /* of both */
};
struct script_verdict {
    uint32_t plan;                   /* from 1; 0: the policy refuses all of them */
    char name[65];                   /* of the policy */
    char why[401];                   /* its reason, checked text; "" when it gives none */
};
/** Let a policy decide in a host of its own, which has 2 s of CPU time; the time of answers does not count.
 * @return 0, RIG_ESCRIPT (does not load, is no policy, broke, passed a limit), RIG_EUSAGE, RIG_EIO, RIG_ENOMEM, or what ask() gave */
int script_decide(const struct show *show, const struct script_swap_options *options, struct script_verdict *verdict, struct rig_why *why);

/** Load any script in a host and say what it is, without running it. @return 0 or RIG_ESCRIPT */
int script_describe(const struct show *show, const struct script *script, struct script_about *about, struct rig_why *why);

#endif
