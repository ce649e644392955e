/* What single values may be: words of enums, forms of texts, ranges of numbers, and how messages say it. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "showfile_internal.h"

static const char *input_name(unsigned value)
{
    return value == INPUT_MULTICAST ? "multicast" : value == INPUT_UNICAST ? "unicast" : NULL;
}

const char *showfile__word(enum value_kind kind, unsigned value)
{
    switch (kind) {
    case VALUE_HAZARD: return hazard_name((enum hazard)value);
    case VALUE_INPUT:  return input_name(value);
    default:           return air_name((enum air)value);
    }
}

unsigned showfile__word_value(enum value_kind kind, const char *text, size_t length)
{
    switch (kind) {
    case VALUE_HAZARD:
        return hazard_from_name(text, length);
    case VALUE_INPUT:
        for (unsigned value = INPUT_MULTICAST; value <= INPUT_UNICAST; value++)
            if (strlen(input_name(value)) == length && memcmp(input_name(value), text, length) == 0)
                return value;
        return INPUT_NONE;
    default:
        return air_from_name(text, length);
    }
}

bool showfile__is_id(const char *text, size_t length)
{
    if (length < 1 || length > 32)
        return false;
    for (size_t i = 0; i < length; i++) {
        char c = text[i];
        if (!((c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == '.' || c == '-'))
            return false;
    }
    return true;
}

bool showfile__number_fits(const struct key *key, double number)
{
    if (!(number >= key->least && number <= key->most))              /* NaN fails too */
        return false;
    return (key->kind != VALUE_INTEGER && key->kind != VALUE_FORMAT) || number == floor(number);
}

long showfile__control(enum value_kind kind, const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        if ((c == '\n' || c == '\t') && kind == VALUE_LINES)
            continue;
        if (c < 0x20 || c == 0x7f)
            return c;
        if (c == 0xc2 && (unsigned char)text[i + 1] < 0xa0)          /* U+0080..U+009F; checked UTF-8 has the next octet */
            return (unsigned char)text[i + 1];
    }
    return -1;
}

static void expected_number(const struct key *key, bool range, char *buffer, size_t size)
{
    const char *what = key->kind == VALUE_NUMBER ? "a number" : "an integer";
    if (range || key->least > NUMBER_LEAST)
        snprintf(buffer, size, "%s from %.0f to %.0f", what, key->least, key->most);
    else
        snprintf(buffer, size, "%s", what);
}

void showfile__expected(const struct key *key, bool range, char *buffer, size_t size)
{
    const char *text = "";
    switch (key->kind) {
    case VALUE_FORMAT:   text = "1, the only format there is"; break;
    case VALUE_ID:       text = "an id of 1 to 32 of A-Z a-z 0-9 _ . -"; break;
    case VALUE_TEXT:
    case VALUE_LINES:    text = "a text"; break;
    case VALUE_FLAG:     text = "true or false"; break;
    case VALUE_POSITION: text = "{ x, y, z } in metres"; break;
    case VALUE_AIR:      text = "\"single\" or \"dual\""; break;
    case VALUE_HAZARD:   text = "\"motion\", \"laser\", \"flame\", \"fog\" or \"other\""; break;
    case VALUE_INPUT:    text = "\"multicast\" or \"unicast\""; break;
    case VALUE_AIRS:     text = "a list of \"single\" and \"dual\""; break;
    case VALUE_WORDS:    text = "a list of texts"; break;
    case VALUE_SLOTS:    text = "a list of parameter names"; break;
    case VALUE_OBJECT:   text = "a table"; break;
    case VALUE_OBJECTS:  text = "a list of tables"; break;
    case VALUE_INTEGER:
    case VALUE_NUMBER:
        expected_number(key, range, buffer, size);
        return;
    }
    snprintf(buffer, size, "%s", text);
}
