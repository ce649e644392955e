/* Text that grows, and untrusted octets made fit for a message. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "showfile_internal.h"

static bool grow(struct buffer *buffer, size_t more)
{
    if (buffer->failed)
        return false;
    if (more < buffer->room - buffer->length)        /* one octet stays for the NUL */
        return true;
    size_t room = buffer->room ? buffer->room : 256;
    while (room <= SIZE_MAX / 2 && room - buffer->length <= more)
        room *= 2;
    char *bytes = room - buffer->length > more ? realloc(buffer->bytes, room) : NULL;
    if (!bytes) {
        buffer->failed = true;
        return false;
    }
    buffer->bytes = bytes;
    buffer->room = room;
    return true;
}

void showfile__add(struct buffer *buffer, const char *bytes, size_t length)
{
    if (!grow(buffer, length))
        return;
    memcpy(buffer->bytes + buffer->length, bytes, length);
    buffer->length += length;
}

void showfile__add_text(struct buffer *buffer, const char *text)
{
    showfile__add(buffer, text, strlen(text));
}

void showfile__add_number(struct buffer *buffer, double number)
{
    char text[40];
    showfile__add(buffer, text, number_format(number, text));
}

void showfile__add_quoted(struct buffer *buffer, const char *text, size_t length)
{
    size_t from = 0;
    showfile__add(buffer, "\"", 1);
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        char escape[5] = { '\\', (char)c, 0, 0, 0 };
        size_t octets = 2;
        if (c == '\n') {
            escape[1] = 'n';
        } else if (c == '\t') {
            escape[1] = 't';
        } else if (c < 0x20 || c == 0x7f) {
            escape[1] = (char)('0' + c / 100);
            escape[2] = (char)('0' + c / 10 % 10);
            escape[3] = (char)('0' + c % 10);
            octets = 4;
        } else if (c != '"' && c != '\\') {
            continue;
        }
        showfile__add(buffer, text + from, i - from);
        showfile__add(buffer, escape, octets);
        from = i + 1;
    }
    showfile__add(buffer, text + from, length - from);
    showfile__add(buffer, "\"", 1);
}

int showfile__buffer_take(struct buffer *buffer, char **out, size_t *length, struct rig_why *why)
{
    showfile__add(buffer, "", 0);
    *out = NULL;
    *length = 0;
    if (buffer->failed) {
        free(buffer->bytes);
        *buffer = (struct buffer){ 0 };
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    }
    buffer->bytes[buffer->length] = '\0';
    *out = buffer->bytes;
    *length = buffer->length;
    *buffer = (struct buffer){ 0 };
    return 0;
}

const char *showfile__short_name(const char *name, char out[320])
{
    size_t length = strlen(name);
    if (length < 300)
        return name;
    const char *tail = name + length - 296;
    while (((unsigned char)*tail & 0xc0) == 0x80)
        tail++;
    snprintf(out, 320, "…%s", tail);
    return out;
}

const char *showfile__show_text(const char *text, size_t length, char out[200])
{
    static const char digits[] = "0123456789abcdef";
    size_t cut = utf8_cut(text, length, 40), good = utf8_check(text, cut), to = 0;
    out[to++] = '"';
    for (size_t i = 0; i < cut; i++) {
        unsigned char c = (unsigned char)text[i];
        bool second = c == 0xc2 && i + 1 < good && (unsigned char)text[i + 1] < 0xa0;      /* U+0080..U+009F */
        if (i >= good ? c >= 0x20 && c < 0x7f : c >= 0x20 && c != 0x7f && !second) {
            out[to++] = (char)c;
            continue;
        }
        for (int octets = second ? 2 : 1; octets > 0; octets--, i += octets > 0) {
            c = (unsigned char)text[i];
            out[to++] = '\\';
            out[to++] = 'x';
            out[to++] = digits[c >> 4];
            out[to++] = digits[c & 15];
        }
    }
    memcpy(out + to, cut < length ? "…\"" : "\"", cut < length ? sizeof "…\"" : 2);
    return out;
}
