/* How `listen` shows what was heard. */
#ifndef RIGCALL_CLI_LISTEN_H
#define RIGCALL_CLI_LISTEN_H

#include <stdio.h>

#include "rigcall/listen.h"

/* Where a table goes. */
struct listen_page {
    unsigned rows, columns;          /* of a terminal's page, which the table must fit; rows 0: no limit */
    bool colour;
};
/** Print the faults, those that are fails first, a table of universes and sources, and a last line. */
void listen_print_text(const struct listening *heard, const struct wire_show *wire, const struct wire_faults *faults,
                       const struct listen_page *page, FILE *out);
/** Print one JSON object a line: every universe, every announcer, every fault, then {"kind":"state"}. @return 0 or RIG_ENOMEM */
int listen_print_json(const struct listening *heard, const struct wire_show *wire, const struct wire_faults *faults, FILE *out,
                      struct rig_why *why);

#endif
