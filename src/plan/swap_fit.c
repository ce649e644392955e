/* Which air modes a fixture can be keyed to: its own, and those that its type has and its firmware is new enough for. */
#include <ctype.h>
#include <string.h>

#include "plan_internal.h"

/* The next run of digits in a version; leading zeros do not count. @return NULL when there is none */
static const char *next_number(const char *text, size_t *length)
{
    while (*text && !isdigit((unsigned char)*text))
        text++;
    if (!*text)
        return NULL;
    while (*text == '0' && isdigit((unsigned char)text[1]))
        text++;
    *length = strspn(text, "0123456789");
    return text;
}

/* Number by number, missing parts 0, of any length: compared as texts without leading zeros. */
bool plan__is_below(const char *version, const char *floor)
{
    for (;;) {
        size_t have = 1, need = 1;
        const char *v = version ? next_number(version, &have) : NULL, *f = floor ? next_number(floor, &need) : NULL;
        if (!v && !f)
            return false;
        const char *a = v ? v : "0", *b = f ? f : "0";
        int order = have != need ? (have > need) - (have < need) : memcmp(a, b, have);
        if (order)
            return order < 0;
        version = v ? v + have : NULL;
        floor = f ? f + need : NULL;
    }
}

unsigned plan__airs(const struct show *show, const struct fixture *fixture)
{
    const struct type *type = fixture_type(show, fixture);
    unsigned airs = 0;
    for (enum air air = AIR_SINGLE; type && air <= AIR_DUAL; air++) {
        const char *floor = type->firmware_floor[air];
        if ((type->airs & AIR_BIT(air)) && !(fixture->firmware && floor && plan__is_below(fixture->firmware, floor)))
            airs |= AIR_BIT(air);
    }
    return fixture->air == AIR_NONE ? airs : airs | AIR_BIT(fixture->air);
}
