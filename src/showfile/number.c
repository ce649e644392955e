/* Numbers from text, with a point whatever the locale says. Writing them is the model's number_format(). */
#include <locale.h>
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
