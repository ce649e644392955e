/* Where a report goes: standard output, or with -o a file that is written whole or not at all. */
#ifndef RIGCALL_CLI_OUTPUT_H
#define RIGCALL_CLI_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "rigcall/error.h"

struct output { FILE *stream; const char *path; char *bytes; size_t length; };

/** @param path  NULL or "-": standard output; borrowed until output_close(). @return 0 or RIG_ENOMEM */
int output_open(struct output *output, const char *path, struct rig_why *why);
/** True when it goes to standard output and that is a terminal. */
bool output_is_terminal(const struct output *output);
/** Put what was printed in its place: a regular file is replaced atomically (through a symbolic link, the file it points to), a
 * device or pipe is written to. @return 0 or RIG_EIO; a reader of standard output that has gone
 * away is no error. */
int output_close(struct output *output, struct rig_why *why);
/** Throw it away; what stood at the path stays. Fine after output_close(). */
void output_drop(struct output *output);

#endif
