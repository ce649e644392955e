/* Stands in until the Lua side is there. */
#include "host.h"

__attribute__((weak)) void host_lua_main(struct host *host)
{
    host_error(host, "this build has no Lua", false);
}
