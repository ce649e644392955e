/* The 79 hop channels of the 2.4 GHz band: what keep_out takes away and whether a quiet band is kept. */
#include "rigcall/radio.h"

bool radio_channel_out(const struct transmitter *transmitter, int mhz)
{
    for (uint32_t k = 0; k < transmitter->keep_out_count; k++)
        if (transmitter->keep_out[k].from_mhz <= mhz && mhz <= transmitter->keep_out[k].to_mhz)
            return true;
    return false;
}

int radio_hops(const struct transmitter *transmitter)
{
    int left = 0;
    for (int mhz = RADIO_FIRST_MHZ; mhz <= RADIO_LAST_MHZ; mhz++)
        left += !radio_channel_out(transmitter, mhz);
    return left;
}

bool radio_quiet_kept(const struct transmitter *transmitter, const struct band *quiet, int *left_open_mhz)
{
    for (int mhz = RADIO_FIRST_MHZ; mhz <= RADIO_LAST_MHZ; mhz++) {
        if (mhz < quiet->from_mhz || mhz > quiet->to_mhz || radio_channel_out(transmitter, mhz))
            continue;
        if (left_open_mhz)
            *left_open_mhz = mhz;
        return false;
    }
    return true;
}
