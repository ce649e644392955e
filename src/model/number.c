/* Numbers to text, with a point whatever the locale says. */
#include <float.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rigcall/model.h"

static const double tens[] = { 1e0, 1e1, 1e2, 1e3, 1e4 };

/* "1.5e-07" to "1.5e-7" */
static size_t trim_exponent(char *text, size_t length)
{
    char *e = memchr(text, 'e', length);
    if (!e || (e[1] != '-' && e[1] != '+'))
        return length;
    char *to = e[1] == '-' ? e + 2 : e + 1, *from = e + 2;
    while (*from == '0' && from[1])
        from++;
    memmove(to, from, strlen(from) + 1);
    return strlen(text);
}

static size_t format_whole(uint64_t number, char *out)
{
    char digits[20];
    size_t count = 0;
    do
        digits[count++] = (char)('0' + number % 10);
    while ((number /= 10) != 0);
    for (size_t i = 0; i < count; i++)
        out[i] = digits[count - 1 - i];
    return count;
}

/* Numbers of people have few decimals. With at most 15 digits there is one shortest form, and reading divides the same way.
 * @return length, or 0 when the number needs more decimals */
static size_t format_short(double number, char out[NUMBER_TEXT])
{
    double size = fabs(number);
    for (unsigned decimals = 0; size < 1e10 && decimals <= 4; decimals++) {
        double scaled = nearbyint(size * tens[decimals]);
        if (scaled / tens[decimals] != size)
            continue;
        size_t length = 0;
        uint64_t all = (uint64_t)scaled, unit = (uint64_t)tens[decimals];
        if (number < 0)
            out[length++] = '-';
        length += format_whole(all / unit, out + length);
        if (decimals) {
            format_whole(unit + all % unit, out + length); /* the 1 before them keeps the zeros; the point goes over it */
            out[length] = '.';
            length += decimals + 1;
        }
        out[length] = '\0';
        return length;
    }
    return 0;
}

size_t number_format(double number, char out[NUMBER_TEXT])
{
    size_t short_length = format_short(number, out);
    if (short_length)
        return short_length;
    /* glibc gives its one "C" locale here, so this takes no memory; elsewhere it may. */
    locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    locale_t before = plain == (locale_t)0 ? (locale_t)0 : uselocale(plain);
    size_t length = 0;
    /* 15 digits hold whatever was written with fewer, 17 hold any double; numbers below DBL_MIN have less precision. */
    for (int digits = fabs(number) < DBL_MIN ? 1 : 15; digits <= 17; digits++) {
        length = (size_t)snprintf(out, NUMBER_TEXT, "%.*g", digits, number);
        if (strtod(out, NULL) == number)
            break;
    }
    if (plain != (locale_t)0) {
        uselocale(before);
        freelocale(plain);
    }
    return trim_exponent(out, length);
}
