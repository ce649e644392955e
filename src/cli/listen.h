/* How `listen` shows what was heard. */
#ifndef RIGCALL_CLI_LISTEN_H
#define RIGCALL_CLI_LISTEN_H

#include <stdio.h>

#include "rigcall/listen.h"

/** Print a table of universes and sources, the faults and a last line.
 * @param rows  most lines altogether (of a terminal's page), 0: no limit   @param colour  faults that are fails in red */
void listen_print_text(const struct listening *heard, const struct wire_faults *faults, unsigned rows, bool colour, FILE *out);
/** Print one JSON object a line: every universe, every fault, then {"kind":"state"}. @return 0 or RIG_ENOMEM */
int listen_print_json(const struct listening *heard, const struct show *show, const struct wire_faults *faults, FILE *out,
                      struct rig_why *why);
/** "live", "ended" or "lost". Static text. */
const char *listen_state_name(enum sacn_source_state state);

#endif
