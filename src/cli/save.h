/* A changed show into its file. */
#ifndef RIGCALL_CLI_SAVE_H
#define RIGCALL_CLI_SAVE_H

#include "rigcall/showfile.h"

/** Write the show to the path that it was read from, the file before is kept as path~. Says on stderr when comments are lost.
 * @return 0, RIG_EINPUT, RIG_EIO, RIG_ENOMEM */
int save_show(const struct show *show, const char *path, struct rig_why *why);

#endif
