/* The quiet bands that a transmitter must keep out when it gets its first lane, for every planner. */
#include <string.h>

#include "plan_internal.h"

struct plan__quiet plan__quiet(const struct show *show, const struct transmitter *transmitter)
{
    struct plan__quiet found = { .asked = transmitter->lane_count == 0 || !transmitter->code };
    bool quiet[RADIO_CHANNELS] = { false };
    for (uint32_t q = 0; q < show->quiet_count && found.asked; q++) {
        const struct band *band = &show->quiet[q];
        found.missing |= !radio_quiet_kept(transmitter, band, NULL);
        for (int c = 0; c < RADIO_CHANNELS; c++)
            quiet[c] |= band->from_mhz <= RADIO_FIRST_MHZ + c && RADIO_FIRST_MHZ + c <= band->to_mhz;
    }
    for (int c = 0; c < RADIO_CHANNELS; c++)
        found.hops += !quiet[c] && !radio_channel_out(transmitter, RADIO_FIRST_MHZ + c);
    return found;
}

/* Bands in their CSV spelling, NULL when memory is short. */
static const char *bands_text(struct plan *plan, const struct band *bands, uint32_t count)
{
    char *text = plan__alloc(plan, (size_t)count * (2 * NUMBER_TEXT + 2) + 1);
    size_t used = 0;
    for (uint32_t b = 0; text && b < count; b++) {
        if (b)
            text[used++] = ' ';
        used += number_format(bands[b].from_mhz, text + used);
        text[used++] = '-';
        used += number_format(bands[b].to_mhz, text + used);
    }
    return text;
}

bool plan__keep_out(struct plan *plan, const struct show *show, const struct transmitter *transmitter, struct plan_value *from,
                    struct plan_value *to)
{
    struct transmitter copy = *transmitter;
    struct band *bands = plan__alloc(plan, ((size_t)copy.keep_out_count + show->quiet_count + 1) * sizeof *bands);
    const char *before = bands_text(plan, copy.keep_out, copy.keep_out_count);
    if (!bands || !before)
        return false;
    if (copy.keep_out_count)
        memcpy(bands, copy.keep_out, copy.keep_out_count * sizeof *bands);
    copy.keep_out = bands;
    for (uint32_t q = 0; q < show->quiet_count; q++)
        if (!radio_quiet_kept(&copy, &show->quiet[q], NULL))
            bands[copy.keep_out_count++] = show->quiet[q];
    const char *after = bands_text(plan, bands, copy.keep_out_count);
    *from = *before ? plan__value(before) : plan__null();
    *to = plan__value(after);
    return after != NULL;
}
