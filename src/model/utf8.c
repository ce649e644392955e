/* UTF-8 checked and counted, RFC 3629. */
#include <string.h>

#include "rigcall/model.h"

static bool follows(unsigned char octet, unsigned char low, unsigned char high)
{
    return octet >= low && octet <= high;
}

/* Octets of the character at text, or 0 if it is wrong: RFC 3629 section 4, the table of well-formed sequences. */
static size_t character(const unsigned char *text, size_t left)
{
    unsigned char first = text[0];
    size_t length = first < 0x80 ? 1 : follows(first, 0xc2, 0xdf) ? 2 : follows(first, 0xe0, 0xef) ? 3 : follows(first, 0xf0, 0xf4) ? 4 : 0;
    if (length <= 1)
        return length;
    if (length > left)
        return 0;
    unsigned char low = first == 0xe0 ? 0xa0 : first == 0xf0 ? 0x90 : 0x80;
    unsigned char high = first == 0xed ? 0x9f : first == 0xf4 ? 0x8f : 0xbf;
    if (!follows(text[1], low, high))
        return 0;
    for (size_t i = 2; i < length; i++)
        if (!follows(text[i], 0x80, 0xbf))
            return 0;
    return length;
}

size_t utf8_check(const char *text, size_t length)
{
    const unsigned char *octets = (const unsigned char *)text;
    size_t at = 0, step;
    while (at < length && (step = character(octets + at, length - at)) != 0)
        at += step;
    return at;
}

size_t utf8_count(const char *text, size_t length)
{
    size_t count = 0;
    for (size_t i = 0; i < length; i++)
        count += ((unsigned char)text[i] & 0xc0) != 0x80;
    return count;
}

size_t utf8_cut(const char *text, size_t length, size_t limit)
{
    size_t cut = length < limit ? length : limit, start = cut;
    while (start > 0 && cut - start < 4 && ((unsigned char)text[start - 1] & 0xc0) == 0x80)
        start--;
    if (start > 0)
        start--;                      /* now at the first octet of the last character before the cut */
    return cut > start && character((const unsigned char *)text + start, cut - start) == 0 ? start : cut;
}
