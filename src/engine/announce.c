#include "announce.h"

#include <stdlib.h>
#include <string.h>

#define DISCOVERY_NS 1e10            /* E131_UNIVERSE_DISCOVERY_INTERVAL, Appendix A */

static int by_octets(const void *a, const void *b)
{
    return memcmp(a, b, sizeof(union sacn_address));
}

/* Every host once. The octets of equal addresses are equal: sacn_address_parse() sets all. */
static uint32_t find_hosts(struct announce *announce, const struct output *output)
{
    uint32_t all = 0, count = 0;
    for (uint32_t u = 0; u < output->count; u++)
        if (output->state[u].host.any.sa_family != AF_UNSPEC)
            announce->hosts[all++] = output->state[u].host;
    qsort(announce->hosts, all, sizeof *announce->hosts, by_octets);
    for (uint32_t i = 0; i < all; i++)
        if (i == 0 || by_octets(&announce->hosts[i], &announce->hosts[i - 1]) != 0)
            announce->hosts[count++] = announce->hosts[i];
    return count;
}

static bool any_multicast(const struct output *output)
{
    for (uint32_t u = 0; u < output->count; u++)
        if (output->state[u].host.any.sa_family == AF_UNSPEC)
            return true;
    return false;
}

/* Receivers of multicast take it from the group of its address (6.3.3.1), those of unicast from where their data comes from. With a
 * target address no universe has a host, and the sender sends there what is for a group. */
static int init_sync(struct announce *announce, const struct engine_play *play, const struct output *output)
{
    announce->hosts = calloc((size_t)output->count + 1, sizeof *announce->hosts);
    announce->sync_to = calloc((size_t)output->count + 1, sizeof *announce->sync_to);
    if (!announce->hosts || !announce->sync_to)
        return RIG_ENOMEM;
    sacn_sync_init(announce->sync_packet, &play->source, play->sync_address);
    const struct sacn_datagram datagram = { announce->sync_packet, SACN_SYNC_SIZE, play->sync_address, NULL };
    uint32_t hosts = find_hosts(announce, output);
    if (any_multicast(output))
        announce->sync_to[announce->sync_to_count++] = datagram;
    for (uint32_t i = 0; i < hosts; i++) {
        announce->sync_to[announce->sync_to_count] = datagram;
        announce->sync_to[announce->sync_to_count++].address = &announce->hosts[i];
    }
    return 0;
}

/* All universes that are sent to, synchronisation among them (4.3, 8.5), ascending. @return how many */
static uint32_t collect_universes(uint16_t *universes, const struct output *output, uint16_t sync_address)
{
    uint32_t count = 0;
    bool put = sync_address == 0;
    for (uint32_t u = 0; u < output->count; u++) {
        uint16_t wire = output->universes[u].wire;
        if (!put && wire > sync_address)
            universes[count++] = sync_address;
        put |= wire >= sync_address;
        universes[count++] = wire;
    }
    if (!put)
        universes[count++] = sync_address;
    return count;
}

static int init_discovery(struct announce *announce, const struct engine_play *play, const struct output *output)
{
    uint16_t *universes = calloc((size_t)output->count + 1, sizeof *universes);
    if (!universes)
        return RIG_ENOMEM;
    uint32_t count = collect_universes(universes, output, play->sync_address);
    announce->page_count = (uint32_t)sacn_discovery_pages(count);
    announce->pages = calloc(announce->page_count, sizeof *announce->pages);
    announce->list = calloc(announce->page_count, sizeof *announce->list);
    for (uint32_t i = 0; announce->pages && announce->list && i < announce->page_count; i++) {
        size_t size = sacn_discovery_page(announce->pages[i], &play->source, universes, count, i);
        announce->list[i] = (struct sacn_datagram){ announce->pages[i], (uint16_t)size, SACN_DISCOVERY_UNIVERSE, NULL };
    }
    free(universes);
    size_t size = sacn_discovery_page(announce->empty, &play->source, NULL, 0, 0);
    announce->no_list = (struct sacn_datagram){ announce->empty, (uint16_t)size, SACN_DISCOVERY_UNIVERSE, NULL };
    return announce->pages && announce->list ? 0 : RIG_ENOMEM;
}

int announce_init(struct announce *announce, const struct engine_play *play, const struct output *output, struct rig_why *why)
{
    *announce = (struct announce){ 0 };
    int err = play->sync_address ? init_sync(announce, play, output) : 0;
    if (!err)
        err = init_discovery(announce, play, output);
    return err ? rig_fail(why, err, "out of memory for packets") : 0;
}

void announce_fini(struct announce *announce)
{
    free(announce->hosts);
    free(announce->sync_to);
    free(announce->pages);
    free(announce->list);
    *announce = (struct announce){ 0 };
}

void announce_frame(struct announce *announce, const struct output *output, double time_ns, enum output_kind kind, bool last)
{
    announce->sync = announce->discovery = (struct announce_due){ 0 };
    if (output->due_count && announce->sync_to_count) {
        announce->sync = (struct announce_due){ announce->sync_to, announce->sync_to_count };
        sacn_sync_set_sequence(announce->sync_packet, announce->sync_sequence++);
    }
    if (last) {
        announce->discovery = (struct announce_due){ &announce->no_list, 1 };
    } else if (kind != OUTPUT_TERMINATED && time_ns + ENGINE_GRACE_NS >= (double)announce->lists * DISCOVERY_NS) {
        announce->discovery = (struct announce_due){ announce->list, announce->page_count };
        announce->lists = (uint64_t)((time_ns + ENGINE_GRACE_NS) / DISCOVERY_NS) + 1;
    }
}
