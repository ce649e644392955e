/* The 79 hop channels of the 2.4 GHz band: what keep_out takes away and whether a quiet band is kept. */
#include <math.h>
#include <string.h>

#include "rigcall/radio.h"

struct channels { bool in[RADIO_CHANNELS]; };

/* Mark the channels c with from <= c <= to: a transmitter may have many bands, so each costs its channels only. */
static void mark(struct channels *channels, const struct band *band)
{
    double first = fmax(ceil(band->from_mhz), RADIO_FIRST_MHZ), last = fmin(floor(band->to_mhz), RADIO_LAST_MHZ);
    if (band->from_mhz <= band->to_mhz && first <= last)      /* a band without numbers holds nothing */
        memset(channels->in + (int)first - RADIO_FIRST_MHZ, true, (size_t)(last - first) + 1);
}

static void mark_keep_out(struct channels *channels, const struct transmitter *transmitter)
{
    memset(channels, 0, sizeof *channels);
    for (uint32_t k = 0; k < transmitter->keep_out_count; k++)
        mark(channels, &transmitter->keep_out[k]);
}

bool radio_channel_out(const struct transmitter *transmitter, int mhz)
{
    for (uint32_t k = 0; k < transmitter->keep_out_count; k++)
        if (transmitter->keep_out[k].from_mhz <= mhz && mhz <= transmitter->keep_out[k].to_mhz)
            return true;
    return false;
}

int radio_hops(const struct transmitter *transmitter)
{
    struct channels out;
    int left = RADIO_CHANNELS;
    mark_keep_out(&out, transmitter);
    for (int c = 0; c < RADIO_CHANNELS; c++)
        left -= out.in[c];
    return left;
}

bool radio_quiet_kept(const struct transmitter *transmitter, const struct band *quiet, int *left_open_mhz)
{
    struct channels out, wanted = { { false } };
    mark_keep_out(&out, transmitter);
    mark(&wanted, quiet);
    for (int c = 0; c < RADIO_CHANNELS; c++) {
        if (!wanted.in[c] || out.in[c])
            continue;
        if (left_open_mhz)
            *left_open_mhz = RADIO_FIRST_MHZ + c;
        return false;
    }
    return true;
}
