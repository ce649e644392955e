/* A timer on a libuv loop for absolute deadlines. On Linux a timerfd: libuv's own timers are whole milliseconds. */
#ifndef RIGCALL_ENGINE_DEADLINE_H
#define RIGCALL_ENGINE_DEADLINE_H

#include <stdbool.h>
#include <stdint.h>
#include <uv.h>

struct deadline {
#ifdef __linux__
    uv_poll_t handle;
    int fd;
#else
    uv_timer_t handle;
#endif
    void (*reached)(void *context);
    void *context;
    bool open;
};

/** @return 0 or a libuv error */
int deadline_init(struct deadline *deadline, uv_loop_t *loop, void (*reached)(void *context), void *context);
/** Call reached() once, at or after a time of uv_hrtime(). A later call replaces an earlier one. */
void deadline_set(struct deadline *deadline, uint64_t at_ns);
/** Close; the memory must live until the loop has run once more. A deadline that is not open is left alone. */
void deadline_close(struct deadline *deadline);

#endif
