/* Texts: quoted ones with their escapes, and long brackets. */
#include <stdlib.h>
#include <string.h>

#include "lex_internal.h"

long showfile__bracket_level(const char *at, const char *end)
{
    const char *c = at + 1;
    while (c < end && *c == '=')
        c++;
    return c < end && *c == '[' ? (long)(c - at - 1) : -1;
}

const char *showfile__bracket_close(const char *at, const char *end, long level)
{
    for (const char *c = at; (c = memchr(c, ']', (size_t)(end - c))) != NULL;) {
        const char *e = c + 1;
        while (e < end && *e == '=')
            e++;
        if (e < end && *e == ']' && e - c - 1 == level)
            return c;
        c = e;                        /* runs of = are skipped once, so this stays linear */
    }
    return NULL;
}

int showfile__wrong_utf8(struct lexer *lexer, const char *at, const char *what)
{
    return showfile__fail(lexer, at, "octet 0x%02x in %s, expected UTF-8", (unsigned char)*at, what);
}

static int too_long(struct lexer *lexer)
{
    return showfile__fail(lexer, lexer->token.start, "found a text of more than %u octets, expected at most that many",
                          SHOWFILE_TEXT);
}

/* Where the texts that must be decoded go: made once, SHOWFILE_TEXT octets. */
static int need_scratch(struct lexer *lexer)
{
    if (!lexer->scratch)
        lexer->scratch = malloc(SHOWFILE_TEXT);
    return lexer->scratch ? 0 : rig_fail(lexer->why, RIG_ENOMEM, "%s: out of memory", lexer->name);
}

static int put(struct lexer *lexer, char c)
{
    struct token *token = &lexer->token;
    if (token->length == SHOWFILE_TEXT)
        return too_long(lexer);
    lexer->scratch[token->length++] = c;
    return 0;
}

/* Step over a line end, which may be two octets. */
static const char *line_end(const char *at, const char *end)
{
    return at + 1 < end && (at[1] == '\n' || at[1] == '\r') && at[1] != at[0] ? at + 2 : at + 1;
}

static int wrong_escape(struct lexer *lexer, const char *at, const char *expected)
{
    char found[200];
    size_t left = (size_t)(lexer->end - at), length = 1;
    while (length < left && length < 12 && at[length] != '"' && at[length] != '\'' && (unsigned char)at[length] > ' ')
        length++;
    return showfile__fail(lexer, at, "found the escape %s, expected %s", showfile__show_text(at, length, found), expected);
}

static int hex_digit(char c)
{
    return c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

/* \u{XXX}: a Unicode scalar value as UTF-8 */
static int escape_unicode(struct lexer *lexer, const char *start)
{
    static const char expected[] = "\\u{...} with a character up to 10FFFF that is no surrogate";
    const char *c = start + 2;
    unsigned long value = 0;
    if (c >= lexer->end || *c++ != '{' || c >= lexer->end || hex_digit(*c) < 0)
        return wrong_escape(lexer, start, expected);
    for (; c < lexer->end && hex_digit(*c) >= 0; c++) {
        value = value * 16 + (unsigned)hex_digit(*c);
        if (value > 0x10ffff)
            return wrong_escape(lexer, start, expected);
    }
    if (c >= lexer->end || *c != '}' || (value >= 0xd800 && value <= 0xdfff))
        return wrong_escape(lexer, start, expected);
    lexer->at = c + 1;
    if (value < 0x80)
        return put(lexer, (char)value);
    int more = value < 0x800 ? 1 : value < 0x10000 ? 2 : 3, err;
    static const unsigned char first[] = { 0, 0xc0, 0xe0, 0xf0 };
    err = put(lexer, (char)(first[more] | (value >> (6 * more))));
    while (!err && more-- > 0)
        err = put(lexer, (char)(0x80 | ((value >> (6 * more)) & 0x3f)));
    return err;
}

/* The escape at lexer->at, which points to the backslash. */
static int escape(struct lexer *lexer)
{
    static const char names[] = "abfnrtv\\\"'", values[] = "\a\b\f\n\r\t\v\\\"'";
    const char *start = lexer->at, *c = start + 1, *known;
    if (c >= lexer->end)
        return wrong_escape(lexer, start, "the rest of the text");
    if (*c && (known = strchr(names, *c)) != NULL) {
        lexer->at = c + 1;
        return put(lexer, values[known - names]);
    }
    if (*c == '\n' || *c == '\r') {
        lexer->at = line_end(c, lexer->end);
        return put(lexer, '\n');
    }
    if (*c == 'z') {
        for (c++; c < lexer->end && (*c == ' ' || (*c >= '\t' && *c <= '\r')); c++) {
        }
        lexer->at = c;
        return 0;
    }
    if (*c == 'u')
        return escape_unicode(lexer, start);
    if (*c == 'x') {
        if (lexer->end - c < 3 || hex_digit(c[1]) < 0 || hex_digit(c[2]) < 0)
            return wrong_escape(lexer, start, "\\xXX with two hexadecimal digits");
        lexer->at = c + 3;
        return put(lexer, (char)(hex_digit(c[1]) * 16 + hex_digit(c[2])));
    }
    if (*c >= '0' && *c <= '9') {
        int value = 0;
        for (int i = 0; i < 3 && c < lexer->end && *c >= '0' && *c <= '9'; i++, c++)
            value = value * 10 + (*c - '0');
        if (value > 255)
            return wrong_escape(lexer, start, "\\ddd up to 255");
        lexer->at = c;
        return put(lexer, (char)value);
    }
    return wrong_escape(lexer, start, "one of \\a \\b \\f \\n \\r \\t \\v \\\\ \\\" \\' \\z \\xXX \\ddd \\u{...}");
}

static int check_text(struct lexer *lexer)
{
    const struct token *token = &lexer->token;
    size_t good = utf8_check(token->text, token->length);
    if (good == token->length)
        return 0;
    if (token->text != lexer->scratch)
        return showfile__wrong_utf8(lexer, token->text + good, "a text");
    return showfile__fail(lexer, token->start, "octet 0x%02x in a text, expected UTF-8", (unsigned char)token->text[good]);
}

/* What the plain stretch of a text ends at: quotes, backslash, line ends; and what is above ASCII. */
static const char *plain_end(const char *at, const char *end, char quote, bool *high)
{
    for (; at < end; at++) {
        unsigned char c = (unsigned char)*at;
        if (c == (unsigned char)quote || c == '\\' || c == '\n' || c == '\r')
            break;
        *high |= c >= 0x80;
    }
    return at;
}

int showfile__quoted_text(struct lexer *lexer)
{
    struct token *token = &lexer->token;
    char quote = *lexer->at++;
    bool high = false, decoded = false;
    token->kind = TOKEN_TEXT;
    token->length = 0;
    for (;;) {
        const char *from = lexer->at;
        lexer->at = plain_end(from, lexer->end, quote, &high);
        size_t length = (size_t)(lexer->at - from);
        if (lexer->at >= lexer->end || *lexer->at == '\n' || *lexer->at == '\r')
            return showfile__fail(lexer, token->start, "found a text without an end on its line, expected a closing %c",
                                  quote);
        if (length > SHOWFILE_TEXT - token->length)
            return too_long(lexer);
        bool done = *lexer->at == quote;
        if (done && !decoded) {
            token->text = from;
            token->length = length;
        } else {
            int err = need_scratch(lexer);
            if (err)
                return err;
            memcpy(lexer->scratch + token->length, from, length);
            token->length += length;
            token->text = lexer->scratch;
            decoded = high = true;
        }
        if (done) {
            lexer->at++;
            return high ? check_text(lexer) : 0;
        }
        int err = escape(lexer);
        if (err)
            return err;
    }
}

int showfile__long_text(struct lexer *lexer, long level)
{
    struct token *token = &lexer->token;
    const char *from = lexer->at + level + 2, *close = showfile__bracket_close(from, lexer->end, level);
    token->kind = TOKEN_TEXT;
    token->length = 0;
    if (!close)
        return showfile__fail(lexer, token->start, "found a long text without an end, expected its closing bracket");
    if (from < close && (*from == '\n' || *from == '\r'))
        from = line_end(from, close);                    /* a first line end is not part of the text */
    lexer->at = close + level + 2;
    if ((size_t)(close - from) > 2 * SHOWFILE_TEXT)
        return too_long(lexer);
    int err = need_scratch(lexer);
    token->text = lexer->scratch;
    while (!err && from < close) {
        bool ends = *from == '\n' || *from == '\r';
        err = put(lexer, ends ? '\n' : *from);
        from = ends ? line_end(from, close) : from + 1;
    }
    return err ? err : check_text(lexer);
}
