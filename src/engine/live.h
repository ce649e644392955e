/* A live run: one libuv loop with a deadline for frames and wakes, the player's descriptor, the crew's terminal, and signals. */
#ifndef RIGCALL_ENGINE_LIVE_H
#define RIGCALL_ENGINE_LIVE_H

#include <uv.h>

#include "deadline.h"
#include "pacer.h"
#include "realtime.h"
#include "run.h"

enum live_stage {
    LIVE_LOOKING,                    /* for other sources; nothing is sent */
    LIVE_PRELUDE,                    /* the script works on what it does at 0 s; then the clock starts */
    LIVE_RUNNING,
    LIVE_ENDING,                     /* defaults, then terminated packets */
    LIVE_OVER
};
enum live_script { SCRIPT_BUSY, SCRIPT_WAITS, SCRIPT_ASKS, SCRIPT_OVER };

/* A descriptor on the loop, watched only while something is expected from it. */
struct live_fd { uv_poll_t handle; int fd, flags; bool open; };

#define LIVE_SIGNALS 3

struct live {
    struct run run;
    uv_loop_t loop;
    struct deadline deadline;
    uv_timer_t tick;                 /* for the player's limits */
    uv_signal_t signals[LIVE_SIGNALS];
    int signal_count;
    bool tick_open;
    struct live_fd player_fd, crew_fd;
    struct sacn_sender *sender;
    struct pacer pacer;
    struct realtime realtime;
    uint32_t due_at;                 /* place in output.due of the next packet to send */

    enum live_stage stage;
    uint64_t start_ns;               /* of uv_hrtime() */
    int ending_frames;               /* made since the end began */
    bool last_made;                  /* the frame with the script's last levels */

    enum live_script script;
    int64_t script_ns;               /* the script's own time */
    int64_t until_ns;                /* SCRIPT_WAITS */
    bool more_to_read;               /* of the script; after the next turn of the loop */
    bool stopped;
};

/* ---- live_script.c ---- */

/** Begin: the script goes on at 0 s; live_script_work() is to follow. */
void live_script_start(struct live *live);
/** Do what can be done for the player and the script now. */
void live_script_work(struct live *live);
/** When it wants to be woken, ns of the run; INT64_MAX when it does not wait. */
int64_t live_script_wake(const struct live *live);
/** No more resumes. */
void live_script_stop(struct live *live);

/* ---- play_live.c ---- */

int64_t live_now(const struct live *live);
/** All that is due now, and the next deadline. To be called whenever something has happened. */
void live_work(struct live *live);

/* ---- live_fd.c ---- */

/** Watch a descriptor, which libuv makes non-blocking. @return false when it cannot be, with the run failed */
bool live_fd_watch(struct live *live, struct live_fd *watched, int fd, const char *what, uv_poll_cb readable);
void live_fd_rest(struct live_fd *watched);
/** @param restore  put its flags back: a terminal is shared with other programs */
void live_fd_close(struct live_fd *watched, bool restore);

#endif
