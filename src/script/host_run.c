/* The first steps of a host process. */
#include <stdio.h>
#include <unistd.h>

#include "host_internal.h"

void host__run(const struct host_start *start, int fd, int report_fd)
{
    static struct host host;
    uint32_t fixture_count = start->show ? start->show->fixture_count : 0;
    host.show = start->show;
    host.before = start->before;
    host.before_trouble = start->before_trouble;
    host.script = start->script;
    host.libs = start->libs;
    host.lib_count = start->lib_count;
    host.fixtures = start->fixtures;
    host.fixture_count = start->fixture_count;
    host.sets = start->sets;
    host.set_count = start->set_count;
    host.plans = start->plans;
    host.plan_count = start->plan_count;
    host.wire = start->wire;
    host.describe_only = start->describe_only;
    host.memory_limit = link_memory_limit(fixture_count);
    const char *trouble = host__close_jail(start, host.memory_limit, fd, report_fd);
    if (trouble)
        _exit(HOST_EXIT_JAIL);
    host__link_start(&host, HOST_SOCKET);
    host__limits_start(&host);
    trouble = host__lock_jail(start);
    if (trouble && !start->script->shipped) {
        char text[300];
        snprintf(text, sizeof text, "is not a shipped script, and others are refused because this machine cannot jail them (%s)",
                 trouble);
        host_error(&host, text, false);
    }
    host_lua_main(&host);
}
