/* 2.4 GHz power limits by region. The table below is derived from wireless-regdb 2026.05.30 (Debian package 2026.05.30-1~deb12u1);
 * limits change, so the edition travels with it (RADIO_REGDB_EDITION). They are what an operating system applies to Wi-Fi; other
 * radio types follow the national rule, and local rules and licensed practice come first. Licence of the table (ISC):
 *
 * Copyright: 2008, Luis R. Rodriguez
 *            2008, Johannes Berg
 *            2008, Michael Green
 *
 * Permission to use, copy, modify, and/or distribute this software for any
 * purpose with or without fee is hereby granted, provided that the above
 * copyright notice and this permission notice appear in all copies.
 *
 * THE SOFTWARE IS PROVIDED "AS IS" AND THE AUTHOR DISCLAIMS ALL WARRANTIES
 * WITH REGARD TO THIS SOFTWARE INCLUDING ALL IMPLIED WARRANTIES OF
 * MERCHANTABILITY AND FITNESS. IN NO EVENT SHALL THE AUTHOR BE LIABLE FOR
 * ANY SPECIAL, DIRECT, INDIRECT, OR CONSEQUENTIAL DAMAGES OR ANY DAMAGES
 * WHATSOEVER RESULTING FROM LOSS OF USE, DATA OR PROFITS, WHETHER IN AN
 * ACTION OF CONTRACT, NEGLIGENCE OR OTHER TORTIOUS ACTION, ARISING OUT OF
 * OR IN CONNECTION WITH THE USE OR PERFORMANCE OF THIS SOFTWARE.
 */
#include <math.h>
#include <string.h>

#include "rigcall/radio.h"

/* One rule of one region, ISO 3166 code; "00" is the world. Sorted by region. */
static const struct region_rule { char region[3]; double low_mhz, high_mhz, eirp_dbm; } rules[] = {
    { "00", 2402, 2472, 20 }, { "00", 2457, 2482, 20 }, { "00", 2474, 2494, 20 },
    { "AT", 2400, 2483.5, 20 }, { "AU", 2400, 2483.5, 36.02 }, { "BE", 2400, 2483.5, 20 },
    { "BR", 2400, 2483.5, 30 }, { "CA", 2400, 2483.5, 36.02 }, { "CH", 2400, 2483.5, 20 },
    { "CN", 2400, 2483.5, 20 }, { "CZ", 2400, 2483.5, 20 }, { "DE", 2400, 2483.5, 20 },
    { "DK", 2400, 2483.5, 20 }, { "ES", 2400, 2483.5, 20 }, { "FI", 2400, 2483.5, 20 },
    { "FR", 2400, 2483.5, 20 }, { "GB", 2400, 2483.5, 20 }, { "IE", 2400, 2483.5, 20 },
    { "IN", 2402, 2482, 30 }, { "IT", 2400, 2483.5, 20 }, { "JP", 2402, 2482, 20 },
    { "JP", 2474, 2494, 20 }, { "KR", 2400, 2483.5, 23 }, { "MX", 2402, 2482, 20 },
    { "NL", 2400, 2483.5, 20 }, { "NO", 2400, 2483.5, 20 }, { "NZ", 2400, 2483.5, 36 },
    { "PL", 2400, 2483.5, 20 }, { "PT", 2400, 2483.5, 20 }, { "SE", 2400, 2483.5, 20 },
    { "SG", 2400, 2483.5, 23.01 }, { "US", 2400, 2472, 30 }, { "ZA", 2402, 2482, 20 },
};

double radio_region_limit_dbm(const char *region)
{
    double limit_dbm = NAN;
    for (size_t r = 0; region && r < sizeof rules / sizeof *rules; r++)
        if (strcmp(rules[r].region, region) == 0 && rules[r].low_mhz <= RADIO_LAST_MHZ && rules[r].high_mhz >= RADIO_FIRST_MHZ)
            limit_dbm = fmax(limit_dbm, rules[r].eirp_dbm);         /* fmax() leaves a NAN for the number */
    return limit_dbm;
}
