/* Numbers from and to text, with a point whatever the locale says. */
#include <float.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "showfile_internal.h"

#define NUMERAL 200                  /* longest numeral that is read, octets */

static const double tens[] = { 1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15 };

/* Decimal without exponent and at most 15 digits: digits and power of ten are exact doubles, so one division rounds
 * correctly. */
static bool parse_short(const char *text, size_t length, double *number)
{
    unsigned long long digits = 0;
    size_t point = length;
    if (length > 16)
        return false;
    for (size_t i = 0; i < length; i++) {
        if (text[i] >= '0' && text[i] <= '9')
            digits = digits * 10 + (unsigned)(text[i] - '0');
        else if (text[i] == '.' && point == length)
            point = i;
        else
            return false;
    }
    size_t fraction = point == length ? 0 : length - point - 1;
    if (length - (point != length) > 15 || length == (size_t)(point != length))
        return false;
    *number = (double)digits / tens[fraction];
    return true;
}

/* glibc gives its one "C" locale here, so this takes no memory and needs no freelocale(); elsewhere it may. */
static locale_t plain_locale(void)
{
    return newlocale(LC_ALL_MASK, "C", (locale_t)0);
}

bool showfile__number_parse(const char *text, size_t length, double *number)
{
    char copy[NUMERAL + 1], *end;
    if (parse_short(text, length, number))
        return true;
    if (length == 0 || length > NUMERAL || !((text[0] >= '0' && text[0] <= '9') || text[0] == '.'))
        return false;                /* strtod would take signs, spaces, "inf" and "nan" */
    memcpy(copy, text, length);
    copy[length] = '\0';
    locale_t locale = plain_locale();
    if (locale == (locale_t)0)
        return false;
    *number = strtod_l(copy, &end, locale);
    freelocale(locale);
    return *end == '\0' && end != copy;
}

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
static size_t format_short(double number, char out[40])
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

size_t showfile__number_format(double number, char out[40])
{
    size_t short_length = format_short(number, out);
    if (short_length)
        return short_length;
    locale_t plain = plain_locale();
    locale_t before = plain == (locale_t)0 ? (locale_t)0 : uselocale(plain);
    size_t length = 0;
    /* 15 digits hold whatever was written with fewer, 17 hold any double; numbers below DBL_MIN have less precision. */
    for (int digits = fabs(number) < DBL_MIN ? 1 : 15; digits <= 17; digits++) {
        length = (size_t)snprintf(out, 40, "%.*g", digits, number);
        if (strtod(out, NULL) == number)
            break;
    }
    if (plain != (locale_t)0) {
        uselocale(before);
        freelocale(plain);
    }
    return trim_exponent(out, length);
}
