/* Descriptors on the loop of a live run. */
#include <fcntl.h>

#include "live.h"

bool live_fd_watch(struct live *live, struct live_fd *watched, int fd, const char *what, uv_poll_cb readable)
{
    int err = 0;
    if (!watched->open) {
        watched->fd = fd;
        watched->flags = fcntl(fd, F_GETFL);
        err = uv_poll_init(&live->loop, &watched->handle, fd);
        watched->open = !err;
        watched->handle.data = live;
    }
    if (!err)
        err = uv_poll_start(&watched->handle, UV_READABLE | UV_DISCONNECT, readable);
    if (err)
        run_fail(&live->run, RIG_EIO, "%s: %s", what, uv_strerror(err));
    return !err;
}

void live_fd_rest(struct live_fd *watched)
{
    if (watched->open)
        uv_poll_stop(&watched->handle);
}

void live_fd_close(struct live_fd *watched, bool restore)
{
    if (!watched->open)
        return;
    watched->open = false;
    uv_close((uv_handle_t *)&watched->handle, NULL);
    if (restore && watched->flags >= 0)
        fcntl(watched->fd, F_SETFL, watched->flags);
}
