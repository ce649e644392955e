#include "script_internal.h"

int script_describe(const struct show *show, const struct script *script, struct script_about *about, struct rig_why *why)
{
    struct script_libs libs = { 0 };
    struct script_process process;
    struct rig_why inner;
    struct host_start start = { .show = show, .script = script, .libs = libs.offered, .describe_only = true };
    start.lib_count = script__libs_offer(&libs, script);
    start.cpu_backstop_s = (unsigned)link_load_limit_s() + 2;
    int err = script__process_start(&process, &start, why);
    if (!err) {
        err = script__process_load(&process, about, NULL, NULL, &inner);
        if (err)
            script__fail(why, RIG_ESCRIPT, script, inner.text);
        script__process_fini(&process);
    }
    script__libs_fini(&libs);
    return err ? RIG_ESCRIPT : 0;
}
