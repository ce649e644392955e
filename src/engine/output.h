/* Which universes' packets a frame sends, and the packets: built once, patched in place. Sends nothing itself.
 * A packet goes out in every frame in which its universe changed, in three more, and then once every 0.8 to 1 s
 * (ANSI E1.31-2018 6.6.2). Every packet of a universe counts its sequence number on by one (6.7.2). */
#ifndef RIGCALL_ENGINE_OUTPUT_H
#define RIGCALL_ENGINE_OUTPUT_H

#include "engine_internal.h"

enum output_kind {
    OUTPUT_CHANGES,                  /* what the rules above ask for */
    OUTPUT_ALL,                      /* every universe: the defaults at the end */
    OUTPUT_TERMINATED                /* every universe, with Stream_Terminated set (6.2.6) */
};

/* host: family 0 when the target decides. */
struct output_universe { uint8_t sequence; uint8_t repeats; uint64_t sent_in; union sacn_address host; };
struct output {
    const struct engine_universe *universes; uint32_t count;
    struct output_universe *state;
    uint8_t (*packets)[SACN_DATA_SIZE];      /* NULL: only counted */
    uint32_t *due; uint32_t due_count;       /* places of the universes of the last frame, by wire number */
    uint64_t keep_alive;                     /* frames */
    bool begun;
};

/** Frames between two packets of a universe that does not change: nearest to 0.9 s within 0.8..1 s; where no whole number of
 * frames is in there, the most that take no longer than a second, at least 1. */
uint64_t output_keep_alive(double rate_hz);

/** @param play  source, target and preview of it are used: the universes' hosts only without target.to
 * @param packets  build packets
 * @return 0, RIG_ENOMEM, RIG_EINPUT (a host that is no IPv4 or IPv6 address) */
int output_init(struct output *output, const struct engine_play *play, bool packets, struct rig_why *why);
void output_fini(struct output *output);

/** Fill due, and the packets of those, for the frame the engine has just made. */
void output_frame(struct output *output, uint64_t frame, enum output_kind kind);

/** The packet of a universe that is due, borrowed. */
struct sacn_datagram output_datagram(const struct output *output, uint32_t universe);

#endif
