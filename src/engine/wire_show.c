/* The universes of a show by the numbers that they have on the network, and how they are written. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rigcall/listen.h"

int wire_show_new(const struct show *show, const uint16_t *only, size_t only_count, struct wire_show **out, struct rig_why *why)
{
    struct wire_show *wire = calloc(1, sizeof *wire);
    *out = wire;
    if (!wire)
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    wire->show = show;
    wire->partial = only != NULL;
    for (size_t i = 0; only && i < only_count; i++)
        if (only[i] <= SACN_LAST_UNIVERSE)
            wire->listened[only[i]] = true;
    for (uint32_t i = 0; show && i < show->universe_count; i++) {
        int64_t number = universe_wire(&show->universes[i]);
        if (number >= SACN_FIRST_UNIVERSE && number <= SACN_LAST_UNIVERSE && !wire->of[number])
            wire->of[number] = &show->universes[i];
    }
    return 0;
}

void wire_ranges(const bool *set, size_t count, char out[WIRE_RANGES_TEXT])
{
    static const char more[] = ", ...";
    char part[48];
    size_t used = 0;
    *out = '\0';
    for (size_t first = 0, last; first < count; first = last + 1) {
        last = first;
        if (!set[first])
            continue;
        while (last + 1 < count && set[last + 1])
            last++;
        int length = first == last ? snprintf(part, sizeof part, "%s%zu", used ? ", " : "", first)
                                   : snprintf(part, sizeof part, "%s%zu-%zu", used ? ", " : "", first, last);
        if (used + (size_t)length + sizeof more > WIRE_RANGES_TEXT) {
            memcpy(out + used, more, sizeof more);
            return;
        }
        memcpy(out + used, part, (size_t)length + 1);
        used += (size_t)length;
    }
}

void wire_clean(char *text)
{
    for (unsigned char *c = (unsigned char *)text; *c; c++)
        if (*c < 0x20 || *c == 0x7f)
            *c = '?';
        else if (*c == 0xc2 && c[1] >= 0x80 && c[1] < 0xa0)
            *c = c[1] = '?';
}
