/* Options of the commands that listen to the network, and what they mean. */
#ifndef RIGCALL_CLI_HEAR_H
#define RIGCALL_CLI_HEAR_H

#include "options.h"
#include "rigcall/listen.h"

#define HEAR_S 3.0                   /* longer than E1.31's loss time-out of 2.5 s: whoever is silent that long is lost */

#define HEAR_OPTIONS \
    { .name = "if", .kind = OPTION_TEXT, .repeat = true, .value = "NAME", .help = "a network interface to listen on" }, \
    { .name = "ipv6", .kind = OPTION_FLAG, .help = "listen to multicast by IPv6" }, \
    { .name = "port", .kind = OPTION_INTEGER, .least = 1, .most = 65535, .value = "N", .help = "listen on this UDP port (5568)" }

/** Where to listen. Texts are borrowed from the options. @param command  for messages. @return 0 or RIG_EUSAGE */
int hear_where(const struct options *options, const char *command, struct sacn_receiver_options *receiver, struct rig_why *why);
/** Wire numbers of the show's universes, each once, ascending. @param out  malloc'd, caller frees. @return 0 or RIG_ENOMEM */
int hear_universes(const struct show *show, uint16_t **out, size_t *count, struct rig_why *why);
/** Say that so few seconds call no universe silent. @param seconds  0: without end */
void hear_warn_short(double seconds);
/** For `check`: listen when --live is given, and say what a person should know.
 * @param heard  its table is NULL without --live, else the caller's. @return 0, RIG_EUSAGE (an option without --live), RIG_ENET,
 * RIG_EFAILED (stopped by a signal), RIG_ENOMEM */
int hear_for_check(const struct show *show, const struct options *options, struct listening *heard, struct rig_why *why);

#endif
