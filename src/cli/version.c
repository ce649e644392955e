#include "cli.h"

static int run_version(const struct options *options)
{
    (void)options;
    puts("rigcall " RIGCALL_VERSION);
    return 0;
}

const struct command command_version = {
    .name = "version",
    .about = "Says which version this is.",
    .words = "",
    .example = "  rigcall version",
    .run = run_version,
};
