/* One socket of a sender: the multicast of one interface, or one host. */
#ifndef RIGCALL_SACN_OUTLET_H
#define RIGCALL_SACN_OUTLET_H

#include "sacn_internal.h"

struct sacn__outlet {
    int fd;                           /* -1: not open */
    bool offload;                     /* the kernel cuts messages up (UDP_SEGMENT) */
    bool tried, gone;                 /* sent through; the network was gone when it last was */
    uint16_t from_port;               /* network order */
    struct sacn__way way;             /* of multicast */
    union sacn_address host;          /* of unicast: the first that came */
};

/** Open the socket for multicast. @param way  taken over   @return 0 or RIG_ENET */
int sacn__outlet_open_groups(struct sacn__outlet *outlet, const struct sacn__way *way, const struct sacn_target *target,
                             struct rig_why *why);
/** Open the socket for a host. @return 0 or RIG_ENET */
int sacn__outlet_open_host(struct sacn__outlet *outlet, const union sacn_address *host, const struct sacn_target *target,
                           struct rig_why *why);
void sacn__outlet_close(struct sacn__outlet *outlet);

#endif
