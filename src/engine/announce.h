/* What a run sends beside data packets, after those of a frame: a synchronisation packet (ANSI E1.31-2018 6.3, 11) where it is
 * synchronised, and the list of its universes (universe discovery, 8 and 12) at its start and every 10 s, empty at its end. Built
 * once; says what is due, and sends nothing itself. */
#ifndef RIGCALL_ENGINE_ANNOUNCE_H
#define RIGCALL_ENGINE_ANNOUNCE_H

#include "output.h"

/* Datagrams, borrowed until announce_fini(); count 0 when a frame has none. */
struct announce_due { const struct sacn_datagram *datagrams; uint32_t count; };

struct announce {
    struct announce_due sync, discovery;         /* of the last frame */

    uint8_t sync_packet[SACN_SYNC_SIZE];
    uint8_t sync_sequence;
    struct sacn_datagram *sync_to; uint32_t sync_to_count;   /* the same packet to the group, and to every unicast host */
    union sacn_address *hosts;

    uint8_t (*pages)[SACN_DISCOVERY_SIZE], empty[SACN_DISCOVERY_SIZE];
    struct sacn_datagram *list, no_list; uint32_t page_count;
    uint64_t lists;                              /* announced */
};

/** @param play  source, target, sync_address are used   @param output  initialised; its universes are announced
 * @return 0 or RIG_ENOMEM; announce_fini() in either case */
int announce_init(struct announce *announce, const struct engine_play *play, const struct output *output, struct rig_why *why);
void announce_fini(struct announce *announce);

/** Fill sync and discovery for the frame that output_frame() has just filled.
 * @param time_ns  of the frame   @param last  the run's last frame: its universes leave the list */
void announce_frame(struct announce *announce, const struct output *output, double time_ns, enum output_kind kind, bool last);

#endif
