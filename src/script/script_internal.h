/* Shared by the script_*.c files: the engine's side of one script host. */
#ifndef RIGCALL_SCRIPT_INTERNAL_H
#define RIGCALL_SCRIPT_INTERNAL_H

#include <time.h>

#include "host_internal.h"
#include "link.h"

#define SCRIPT_POLL_MS 20            /* how often the limits of a waiting host are looked at */
#define SCRIPT_KILL_S 0.1            /* of CPU time past its limit: then a host is killed */
#define SCRIPT_WALL_FACTOR 10.0      /* wall time limit: this many times the CPU limit */

/* One host process. */
struct script_process {
    const struct script *script;
    pid_t pid;                       /* 0 once it is reaped */
    int fd;                          /* the engine's end of the link; -1 once closed */
    int report_fd;                   /* sanitizer builds: where reports come from; else -1 */
    clockid_t cpu_clock;
    double cpu_limit_s;              /* of the burst that runs */
    int64_t cpu_start_ns;            /* the host's CPU time when it began */
    int64_t wall_ns;                 /* time that the engine has waited in this burst */
    int64_t looked_ns;               /* when the engine last looked; 0: it was not waiting then */
    unsigned messages;               /* received */
    bool in_message;                 /* the reader holds a message */
    bool ended;
    struct rig_why end;              /* why it ended, without the script's path; code RIG_ESCRIPT */
    struct link_reader *reader;
    unsigned char *buffer;           /* LINK_BYTES */
};

/** Fork a host. On success the process is to be ended with script__process_fini().
 * @param start  what the child needs; filter, address_space and engine are filled here
 * @return 0, RIG_EIO, RIG_ENOMEM */
int script__process_start(struct script_process *process, struct host_start *start, struct rig_why *why);
/** A burst of so much CPU time begins. */
void script__process_burst(struct script_process *process, double cpu_limit_s);
/** Nothing is expected of it now: end it if it sends, runs on, or has died. */
void script__process_silent(struct script_process *process);
/** It has said its last word: wait until it has ended, looking after its limits. Another word is refused. Then process->end.code is
 * 0, or process->end says what was wrong. */
void script__process_last(struct script_process *process);
/** Let the host go on. note may be NULL. */
void script__process_reply(struct script_process *process, enum link_reply_kind kind, int64_t time_ns,
                           enum crew_answer answer, const char *note);

/** "path: text", or "folder/file.lua:3: what" when the text begins with the file's name. @return code */
int script__fail(struct rig_why *why, int code, const struct script *script, const char *text);

enum script_event { SCRIPT_IDLE, SCRIPT_RECORD, SCRIPT_ENDED };
/** The next record that the host has sent. IDLE: nothing there; its limits have been looked at. ENDED: process->end says why.
 * @param allowed  LINK_ALLOW_… */
enum script_event script__process_next(struct script_process *process, unsigned allowed, struct link_record *record);
/** It has sent something that no host sends, which is said: end it. */
void script__process_refuse(struct script_process *process, const char *what);
/** Kill it if it runs and reap it; keeps the descriptor. text NULL: find out from how it died. */
void script__process_end(struct script_process *process, const char *text);
void script__process_fini(struct script_process *process);

/** Wait for the script to say what it is, looking after its limits.
 * @return 0, or RIG_ESCRIPT / RIG_EUSAGE with the sentence behind the path in why */
int script__process_load(struct script_process *process, struct script_about *about,
                         void (*printed)(void *context, const char *text), void *context, struct rig_why *why);

/* The files that use() may read, of several folders, each read once. */
#define SCRIPT_LIBS 64
struct script_libs {
    struct script_folder { char *path; struct script_list files; } *folders;
    size_t folder_count;
    struct host_lib offered[SCRIPT_LIBS];
};
/** What a script may use(): the .lua files of its own folder, then of scripts/lib of the shipped ones. A shipped script gets
 * shipped ones only. A name that stands in both is the one in its own folder. Files that cannot be read are left out.
 * @return number of libs in libs->offered, valid until the next call */
size_t script__libs_offer(struct script_libs *libs, const struct script *script);
void script__libs_fini(struct script_libs *libs);

/** Append the .lua files of a folder by name, at most `limit`, leaving out what cannot be read. */
void script__list_folder_libs(struct script_list *list, const char *path, size_t limit);

/** True when these bytes are a shipped script. */
bool script__is_shipped(const char *bytes, size_t length);

#endif
