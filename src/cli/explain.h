/* --help with a show: which scripts of a kind there are, or what one of them does, with its parameters. */
#ifndef RIGCALL_CLI_EXPLAIN_H
#define RIGCALL_CLI_EXPLAIN_H

#include "find.h"

/** @param name  as for find_script(); NULL: list all that have a name. @return the exit status */
int explain_scripts(const struct find_kind *kind, const char *show_path, const char *name);

#endif
