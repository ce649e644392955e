/* Inside `rigcall run`: who is asked (run_crew.c), what a person must confirm (run_guard.c), one live run of a show at a time
 * (run_lock.c), players around the sequence's own (run_mute.c), the playing (run_play.c), what is said at the end (run_summary.c). */
#ifndef RIGCALL_CLI_RUN_H
#define RIGCALL_CLI_RUN_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "find.h"
#include "options.h"
#include "progress.h"
#include "rigcall/engine.h"
#include "rigcall/script.h"

/* ---- the terminal ---- */

struct terminal {
    int fd;                          /* -1: there is none */
    bool own;                        /* fd was opened here */
    char line[512]; size_t length;   /* of an answer not yet whole */
    bool ended;                      /* end of input was seen */
};
/** /dev/tty, else standard input if it is a terminal, else none. */
void terminal_open(struct terminal *terminal);
void terminal_close(struct terminal *terminal);
/** printf to the terminal, at most 2047 octets. What it cannot take is lost. */
void terminal_print(const struct terminal *terminal, const char *format, ...) __attribute__((format(printf, 2, 3)));
/** Show text, wait for a line. @return true if the line is exactly `word` */
bool terminal_confirm(struct terminal *terminal, const char *text, const char *word);
/** Callbacks for struct engine_crew with the terminal as context. */
void terminal_ask(void *context, const char *subject, const char *question);
bool terminal_read(void *context, enum crew_answer *answer, char *note, size_t note_size);

/* ---- the guard's confirmations ---- */

struct confirmed { uint32_t *armed; uint32_t armed_count; bool allow_flash; };
/** Take --arm and --allow-flash, have each confirmed by a person, and log it in guard.log of the state folder.
 * @return 0, RIG_EUSAGE (no such fixture, no hazard), RIG_EGUARD (no terminal, not confirmed), RIG_EIO (cannot be logged) */
int guard_confirm(const struct options *options, const struct show *show, const char *sequence, struct terminal *terminal,
                  struct confirmed *out, struct rig_why *why);
void guard_confirmed_fini(struct confirmed *confirmed);

/* ---- one live run ---- */

/** Lock a show on this host for this user until the descriptor in *out is closed. @return 0, RIG_ENET (taken), RIG_EIO */
int lock_show(const char *show_name, int *out, struct rig_why *why);

/* ---- players around the sequence's own ---- */

/* A player that ends, broken, where the sequence inside it asks. */
struct mute { struct engine_player player, *inner; int64_t until_ns; bool asked; };
/** @param until_ns  end well at the first wait beyond this time: INT64_MAX never */
void mute_init(struct mute *mute, struct engine_player *inner, int64_t until_ns);

/* A player that shows on stderr how far a dry run is. */
struct watch { struct engine_player player, *inner; struct progress progress; };
void watch_init(struct watch *watch, struct engine_player *inner);

/* ---- one run ---- */

/* All that a run holds, so that one function lets it go. */
struct run {
    const struct options *options;
    const char *show_path, *sequence_name;
    bool live;
    struct show *show;
    uint32_t *fixtures, fixture_count;
    struct script_list scripts;
    struct script_set *sets; size_t set_count;
    struct terminal terminal;
    struct confirmed confirmed;
    int lock;
    struct script_sequence *sequence;
    struct engine *engine;
    struct sacn_capture *capture; uint64_t captured;
    FILE *trace;
    struct engine_report report;
    struct watch watch;
};

/** Start the sequence's host and load it; an earlier one is ended. */
int run_start_sequence(struct run *run, struct rig_why *why);
/** Make the engine; an earlier one is freed. @return 0, RIG_EINPUT (nothing to drive), or what engine_new() says */
int run_make_engine(struct run *run, struct rig_why *why);
/** Play. play->player stays NULL when it did not come to that. run->report is filled.
 * @return 0, or what engine_play_dry() and engine_play_live() say; RIG_EUSAGE for a question that nobody can answer */
int run_play_dry(struct run *run, struct engine_play *play, struct rig_why *why);
int run_play_live(struct run *run, struct engine_play *play, struct rig_why *why);
/** Close capture and trace. @return 0 or RIG_EIO when one is not whole */
int run_close_files(struct run *run, struct rig_why *why);

/* ---- the end ---- */

struct summary {
    const struct show *show; const char *show_path, *sequence;
    bool live;
    const struct engine_report *report;
    uint32_t universes;
    const char *pcap, *trace; uint64_t pcap_packets;
    int err; const struct rig_why *why;
    bool json;
};
/** @return 0 or RIG_ENOMEM */
int summary_write(const struct summary *summary, FILE *out, struct rig_why *why);

#endif
