#include <errno.h>
#include <lauxlib.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/time.h>
#include <time.h>

#include "host_internal.h"

#define TICK_US 10000                /* of CPU time: a passed limit is seen within about this */

static struct host *ticking;         /* the host of this process, for the signal handler */

static int64_t cpu_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

static void on_hook(lua_State *L, lua_Debug *debug)
{
    (void)debug;
    host_check(L, ticking);
}

/* Every tick after a limit arms the hook anew, because the coroutine that runs may have changed since. */
static void on_tick(int signal)
{
    int saved = errno;
    struct host *host = ticking;
    (void)signal;
    if (!host->killed && cpu_ns() >= atomic_load_explicit(&host->link->cpu_end_ns, memory_order_relaxed)) {
        host->limit = HOST_LIMIT_TIME;
        host->killed = 1;
    }
    if (host->killed && host->running)
        lua_sethook(host->running, on_hook, LUA_MASKCOUNT, 1);
    errno = saved;
}

void host__limits_start(struct host *host)
{
    struct sigaction action = { .sa_handler = on_tick, .sa_flags = SA_RESTART };
    struct itimerval every = { { 0, TICK_US }, { 0, TICK_US } };
    ticking = host;
    host__burst(host, link_load_limit_s());
    sigemptyset(&action.sa_mask);
    sigaction(SIGPROF, &action, NULL);
    setitimer(ITIMER_PROF, &every, NULL);
}

void host__burst(struct host *host, double seconds)
{
    host->burst_limit_s = seconds;
    atomic_store_explicit(&host->link->cpu_end_ns, cpu_ns() + (int64_t)(seconds * 1e9), memory_order_relaxed);
}

void host_pass_limit(struct host *host, enum host_limit limit)
{
    if (host->killed)
        return;
    host->limit = limit;
    host->killed = 1;
}

const char *host_limit_text(struct host *host)
{
    static char text[96];
    if (host->limit == HOST_LIMIT_MEMORY)
        snprintf(text, sizeof text, "passed the limit of %.4g MiB of memory", (double)host->memory_limit / (1 << 20));
    else
        snprintf(text, sizeof text, "passed the limit of %.4g s CPU time", host->burst_limit_s);
    return text;
}

void host_check(lua_State *L, struct host *host)
{
    if (host->killed)
        luaL_error(L, "%s", host_limit_text(host));
}

void *host_alloc(void *ud, void *ptr, size_t osize, size_t nsize)
{
    struct host *host = ud;
    size_t old = ptr ? osize : 0;    /* without a block, Lua's osize is a type tag */
    if (nsize == 0) {
        free(ptr);
        host->memory_used -= old;
        return NULL;
    }
    if (nsize > old && nsize - old > host->memory_limit - host->memory_used)
        return NULL;
    void *block = realloc(ptr, nsize);
    if (block)
        host->memory_used += nsize - old;
    return block;
}
