#include "link.h"

#include <string.h>

/* Length of a character at `c` that must not reach a terminal or a report, 0 if it may. The text is valid UTF-8. */
static size_t unwanted(const unsigned char *c)
{
    if (c[0] < 0x20 || c[0] == 0x7f)
        return 1;
    if (c[0] == 0xc2 && c[1] < 0xa0)                                       /* C1 controls */
        return 2;
    if (c[0] == 0xd8 && c[1] == 0x9c)                                      /* U+061C */
        return 2;
    if (c[0] == 0xe2 && c[1] == 0x80 && (c[2] == 0x8e || c[2] == 0x8f))    /* U+200E, U+200F */
        return 3;
    if (c[0] == 0xe2 && c[1] == 0x80 && c[2] >= 0xa8 && c[2] <= 0xae)      /* U+2028, U+2029, U+202A..202E */
        return 3;
    if (c[0] == 0xe2 && c[1] == 0x81 && c[2] >= 0xa6 && c[2] <= 0xa9)      /* U+2066..2069 */
        return 3;
    return 0;
}

static size_t character(const unsigned char *c)
{
    return c[0] < 0x80 ? 1 : c[0] < 0xe0 ? 2 : c[0] < 0xf0 ? 3 : 4;
}

size_t link_text_spaced(char *out, size_t size, const char *text, size_t length, const char *spaces)
{
    size_t used = 0, at = 0, good = 0;                /* text[0..good) is known to be UTF-8 */
    while (at < length) {
        if (at >= good)
            good = at + utf8_check(text + at, length - at);
        const unsigned char *c = (const unsigned char *)text + at;
        bool valid = at < good;
        size_t bad = valid ? unwanted(c) : 1;
        size_t take = valid ? character(c) : 1;
        if (used + (bad ? 1 : take) >= size)
            break;
        if (bad)
            out[used++] = valid && *c && strchr(spaces, *c) ? ' ' : '?';
        else {
            memcpy(out + used, c, take);
            used += take;
        }
        at += take;
    }
    out[used] = '\0';
    return used;
}

size_t link_text(char *out, size_t size, const char *text, size_t length)
{
    return link_text_spaced(out, size, text, length, "\t\n");
}
