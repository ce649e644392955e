/* Inside a script host: what the process side (jail, limits, link: host_*.c) and the Lua side (sandbox, bindings, scheduler:
 * lua_*.c) share. The process side forks, jails, and calls host_lua_main(); the Lua side calls the functions below.
 * A host never returns to the engine's code: it ends in host_done() or host_error(), by _exit. */
#ifndef RIGCALL_SCRIPT_HOST_H
#define RIGCALL_SCRIPT_HOST_H

#include <lua.h>
#include <signal.h>

#include "rigcall/plan.h"
#include "rigcall/script.h"

enum host_limit { HOST_LIMIT_NONE, HOST_LIMIT_TIME, HOST_LIMIT_MEMORY };

struct host_lib { char name[65]; const char *bytes; size_t length; const char *path; };

struct host {
    /* given before the fork; read-only afterwards */
    const struct show *show;
    const struct show *before; const char *before_trouble;   /* the kept predecessor, or why it cannot be read; both may be NULL */
    const struct script *script;
    const struct host_lib *libs; size_t lib_count;           /* what use("name") may return: shipped and sibling files */
    const uint32_t *fixtures; uint32_t fixture_count;        /* the grant of a sequence; NULL: all, in patch order */
    const struct script_set *sets; size_t set_count;         /* --set, unchecked */
    const struct plan *const *plans; uint32_t plan_count;    /* what a swap policy chooses among */
    const struct listening *wire;                            /* what was heard on the network; NULL: nobody listened */
    bool describe_only;                                      /* host_send_about() ends the process */
    bool close_state;                                        /* tests: lua_close() before the end, to find leaks */

    /* limits: set by the process side's signal handler and allocator, looked at by the Lua side */
    volatile sig_atomic_t killed;                            /* a limit is passed: our pcall, xpcall and coroutine.* rethrow */
    enum host_limit limit;
    lua_State *running;                                      /* the coroutine that runs: kept by the Lua side, hooked on the limit */
    size_t memory_used, memory_limit;
    double burst_limit_s;                                    /* of the burst that runs, for messages */

    struct host_link *link;                                  /* opaque: socket, queue, counters (host_link.c) */
};

/* ---- given by the Lua side ---- */

/** Load the script, say what it is, run it, end the process. Called in the jailed process with all limits armed. */
void host_lua_main(struct host *host) __attribute__((noreturn));

/* ---- given by the process side ---- */

/** lua_Alloc with the cap of host->memory_limit. ud is the struct host. */
void *host_alloc(void *ud, void *ptr, size_t osize, size_t nsize);

/** Raise (uncatchably, because our pcall looks at host->killed) when a limit is passed; otherwise return. */
void host_check(lua_State *L, struct host *host);
/** Mark a limit as passed: memory after LUA_ERRMEM, for instance. The caller then raises. */
void host_pass_limit(struct host *host, enum host_limit limit);
/** The sentence for a passed limit: "passed the limit of 5.5 s CPU time", "passed the limit of 64 MiB of memory". Static text. */
const char *host_limit_text(struct host *host);

/** Say what the script is and wait for the engine's word. Returns when the script is to run; a new burst has begun.
 * Check host->sets before: host_error(…, usage) is a usage fault only until then. Texts of about: UTF-8 without control
 * characters, NUL-terminated, or the engine takes them for an attack. With describe_only this does not return. */
void host_send_about(struct host *host, const struct script_about *about);

/** Report a finding. Blocks while the engine is behind. Beyond SCRIPT_FINDINGS they are only counted. text is cut to 1000 octets. */
void host_send_finding(struct host *host, enum severity severity, struct subject subject,
                       const struct subject *others, uint32_t other_count, const char *text, size_t length);

/* Commands queue until the next wait, ask, fades query or end. */
void host_queue_set(struct host *host, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent);
void host_queue_fade(struct host *host, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent,
                     int64_t duration_ns);
void host_queue_slot(struct host *host, int64_t at_ns, int64_t universe, int64_t slot, double percent);
void host_queue_clear(struct host *host, int64_t at_ns, uint32_t fixture, uint32_t cell);
/** text is cut to 400 octets; at most 100 lines a burst are kept, then one line says so. */
void host_queue_say(struct host *host, const char *text, size_t length);
/** Also used by rules; at most 200 lines of 400 octets a script are kept, then one line says so. */
void host_queue_print(struct host *host, const char *text, size_t length);

struct host_resume { int64_t now_ns; enum crew_answer answer; char note[256]; };
/** Send the queue and sleep until the engine says that until_ns has come. A new burst begins, if the time has moved on by a
 * millisecond since the last one began: a loop of waits that last nothing stays under the limit. Does not return on stop. */
void host_wait(struct host *host, int64_t until_ns, struct host_resume *resume);
/** Send the queue and ask the crew. fixture is one of the grant or SHOW_UNKNOWN; the question is cut to 1000 octets. */
void host_ask(struct host *host, uint32_t fixture, const char *question, size_t length, struct host_resume *resume);
/** Send the queue and ask the engine when the last running fade ends. */
int64_t host_fades_end(struct host *host, int64_t now_ns);

/** End a swap policy with its choice. @param plan  from 1; 0: none of them. text: why, cut to 400 octets, may be empty */
void host_verdict(struct host *host, uint32_t plan, const char *text, size_t length) __attribute__((noreturn));
/** End well. */
void host_done(struct host *host) __attribute__((noreturn));
/** End badly: text is the script error, or host_limit_text(). usage: the fault is in --set. */
void host_error(struct host *host, const char *text, bool usage) __attribute__((noreturn));

#endif
