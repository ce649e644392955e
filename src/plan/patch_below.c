/* Firmware versions against floors. */
#include <ctype.h>
#include <string.h>

#include "patch_internal.h"

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
bool patch__is_below(const char *version, const char *floor)
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
