#include "output.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define KEEP_ALIVE_LEAST 0.8
#define KEEP_ALIVE_AIM 0.9
#define KEEP_ALIVE_MOST 1.0
#define REPEATS 3
#define ROUNDING 1e-9

uint64_t output_keep_alive(double rate_hz)
{
    double best = 0;
    for (double frames = floor(KEEP_ALIVE_LEAST * rate_hz); frames <= ceil(KEEP_ALIVE_MOST * rate_hz); frames++) {
        double period = frames / rate_hz;
        if (period < KEEP_ALIVE_LEAST - ROUNDING || period > KEEP_ALIVE_MOST + ROUNDING)
            continue;
        if (best == 0 || fabs(period - KEEP_ALIVE_AIM) < fabs(best / rate_hz - KEEP_ALIVE_AIM))
            best = frames;
    }
    if (best == 0)
        best = floor(KEEP_ALIVE_MOST * rate_hz + ROUNDING);
    return best < 1 ? 1 : (uint64_t)best;
}

static int find_hosts(struct output *output, uint16_t port, struct rig_why *why)
{
    for (uint32_t u = 0; u < output->count; u++) {
        const struct engine_universe *universe = &output->universes[u];
        union sacn_address *host = &output->state[u].host;
        if (universe->host && !(sacn_address_parse(universe->host, port, host) && sacn_address_is_host(host)))
            return rig_fail(why, RIG_EINPUT, "universe %lld: host \"%s\" of its transmitter, expected an IPv4 or IPv6 address%s",
                            (long long)universe->id, universe->host,
                            strchr(universe->host, '%') ? ", after the % an interface of this machine" : "");
    }
    return 0;
}

int output_init(struct output *output, const struct engine_play *play, bool packets, struct rig_why *why)
{
    const struct sacn_target *target = &play->target;
    *output = (struct output){ .keep_alive = output_keep_alive(play->engine->rate_hz) };
    output->universes = engine_universes(play->engine, &output->count);
    output->state = calloc((size_t)output->count + 1, sizeof *output->state);
    output->due = calloc((size_t)output->count + 1, sizeof *output->due);
    if (packets)
        output->packets = calloc((size_t)output->count + 1, sizeof *output->packets);
    if (!output->state || !output->due || (packets && !output->packets))
        return rig_fail(why, RIG_ENOMEM, "out of memory for packets");
    for (uint32_t u = 0; packets && u < output->count; u++) {
        sacn_data_init(output->packets[u], &play->source, output->universes[u].wire, output->universes[u].priority);
        sacn_data_set_preview(output->packets[u], play->preview);
        sacn_data_set_sync(output->packets[u], play->sync_address);
        sacn_data_set_force_sync(output->packets[u], play->force_sync);
    }
    return target->to ? 0 : find_hosts(output, target->port ? target->port : SACN_PORT, why);
}

void output_fini(struct output *output)
{
    free(output->state);
    free(output->due);
    free(output->packets);
    *output = (struct output){ 0 };
}

static bool is_due(const struct output *output, uint32_t u, uint64_t frame, enum output_kind kind)
{
    const struct output_universe *state = &output->state[u];
    return kind != OUTPUT_CHANGES || !output->begun || output->universes[u].changed || state->repeats > 0 ||
           frame - state->sent_in >= output->keep_alive;
}

/* The end of a source is for receivers to act on at once, so it is not synchronised: address 0 leaves nothing to wait for, also
 * when no synchronisation packet comes any more. Its levels are ignored (6.2.6), so nothing is torn by it. */
static void terminate(uint8_t *packet)
{
    sacn_data_set_terminated(packet, true);
    sacn_data_set_sync(packet, 0);
}

void output_frame(struct output *output, uint64_t frame, enum output_kind kind)
{
    output->due_count = 0;
    for (uint32_t u = 0; u < output->count; u++) {
        struct output_universe *state = &output->state[u];
        if (!is_due(output, u, frame, kind))
            continue;
        if (output->universes[u].changed || !output->begun)
            state->repeats = REPEATS;
        else if (state->repeats > 0)
            state->repeats--;
        state->sent_in = frame;
        output->due[output->due_count++] = u;
        if (!output->packets)
            continue;
        uint8_t *packet = output->packets[u];
        memcpy(packet + SACN_SLOT_OFFSET, output->universes[u].levels, SACN_SLOTS);
        sacn_data_set_sequence(packet, state->sequence++);
        if (kind == OUTPUT_TERMINATED)
            terminate(packet);
    }
    output->begun = true;
}

struct sacn_datagram output_datagram(const struct output *output, uint32_t universe)
{
    const union sacn_address *host = &output->state[universe].host;
    return (struct sacn_datagram){ output->packets[universe], SACN_DATA_SIZE, output->universes[universe].wire,
                                   host->any.sa_family == AF_UNSPEC ? NULL : host };
}
