#include "deadline.h"

#ifdef __linux__

#include <errno.h>
#include <sys/timerfd.h>
#include <unistd.h>

static void on_readable(uv_poll_t *handle, int status, int events)
{
    struct deadline *deadline = handle->data;
    uint64_t expirations;
    (void)status;
    (void)events;
    if (read(deadline->fd, &expirations, sizeof expirations) == (ssize_t)sizeof expirations)
        deadline->reached(deadline->context);
}

int deadline_init(struct deadline *deadline, uv_loop_t *loop, void (*reached)(void *context), void *context)
{
    deadline->reached = reached;
    deadline->context = context;
    deadline->fd = timerfd_create(CLOCK_MONOTONIC, TFD_NONBLOCK | TFD_CLOEXEC);      /* the clock of uv_hrtime() */
    if (deadline->fd < 0)
        return uv_translate_sys_error(errno);
    int err = uv_poll_init(loop, &deadline->handle, deadline->fd);
    if (err) {
        close(deadline->fd);
        return err;
    }
    deadline->open = true;
    deadline->handle.data = deadline;
    return uv_poll_start(&deadline->handle, UV_READABLE, on_readable);
}

void deadline_set(struct deadline *deadline, uint64_t at_ns)
{
    struct itimerspec time = { .it_value = { (time_t)(at_ns / 1000000000), (long)(at_ns % 1000000000) } };
    if (at_ns == 0)
        time.it_value.tv_nsec = 1;               /* 0 would disarm it */
    timerfd_settime(deadline->fd, TFD_TIMER_ABSTIME, &time, NULL);
}

void deadline_close(struct deadline *deadline)
{
    if (!deadline->open)
        return;
    deadline->open = false;
    uv_close((uv_handle_t *)&deadline->handle, NULL);
    close(deadline->fd);
}

#else

static void on_timer(uv_timer_t *handle)
{
    struct deadline *deadline = handle->data;
    deadline->reached(deadline->context);
}

int deadline_init(struct deadline *deadline, uv_loop_t *loop, void (*reached)(void *context), void *context)
{
    deadline->reached = reached;
    deadline->context = context;
    deadline->open = true;
    int err = uv_timer_init(loop, &deadline->handle);
    deadline->handle.data = deadline;
    return err;
}

void deadline_set(struct deadline *deadline, uint64_t at_ns)
{
    uint64_t now = uv_hrtime();
    uv_update_time(deadline->handle.loop);
    uv_timer_start(&deadline->handle, on_timer, at_ns > now ? (at_ns - now + 999999) / 1000000 : 0, 0);
}

void deadline_close(struct deadline *deadline)
{
    if (!deadline->open)
        return;
    deadline->open = false;
    uv_close((uv_handle_t *)&deadline->handle, NULL);
}

#endif
