/* Paths that commands build: files beside the show, the state folder. */
#ifndef RIGCALL_CLI_PATHS_H
#define RIGCALL_CLI_PATHS_H

#include <stddef.h>

#include "rigcall/error.h"

/** "rules" beside "shows/a.show.lua" is "shows/rules". @return 0 or RIG_EUSAGE when it does not fit */
int path_beside(const char *path, const char *name, char *buffer, size_t size, struct rig_why *why);
/** folder + "/" + name. @return 0 or RIG_EUSAGE when it does not fit */
int path_join(const char *folder, const char *name, char *buffer, size_t size, struct rig_why *why);
/** $XDG_STATE_HOME/rigcall, else ~/.local/state/rigcall (XDG Base Directory Specification 0.8), made with mode 0700 if missing.
 * @return 0 or RIG_EIO */
int path_state(char *buffer, size_t size, struct rig_why *why);

#endif
