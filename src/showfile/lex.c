/* Splits a show file into names, texts, numbers and symbols as the Lua 5.4 manual, section 3.1, has them. Positions are
 * kept as pointers; lines and columns are counted only when something is wrong. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "showfile_internal.h"

/* Columns count octets; a line ends at \n, \r, or both together. */
static void locate(const struct lexer *lexer, const char *at, unsigned long *line, unsigned long *column)
{
    const char *start = lexer->text;
    *line = 1;
    for (const char *c = lexer->text; c < at; c++) {
        bool first_of_two = c + 1 < lexer->end && (c[1] == '\n' || c[1] == '\r') && c[1] != c[0];
        if (*c != '\n' && *c != '\r')
            continue;
        if (first_of_two && c + 1 < at)
            c++;
        (*line)++;
        start = c + 1;
    }
    *column = (unsigned long)(at - start) + 1;
}

/* A long path would push the sentence out of the message: its end says most. */
static const char *short_name(const char *name, char out[320])
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

int showfile__vfail(struct lexer *lexer, const char *at, const char *before, const char *format, va_list args)
{
    char sentence[600], name[320];
    unsigned long line, column;
    locate(lexer, at, &line, &column);
    vsnprintf(sentence, sizeof sentence, format, args);
    return rig_fail_at(lexer->why, RIG_EINPUT, line, column, "%s:%lu:%lu: %s%s", short_name(lexer->name, name), line, column,
                       before, sentence);
}

int showfile__fail(struct lexer *lexer, const char *at, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    int err = showfile__vfail(lexer, at, "", format, args);
    va_end(args);
    return err;
}

const char *showfile__found(const struct lexer *lexer, char out[200])
{
    const struct token *token = &lexer->token;
    switch (token->kind) {
    case TOKEN_END:
        return "the end of the file";
    case TOKEN_TEXT:
        return showfile__show_text(token->text, token->length, out);
    case TOKEN_NUMBER:
        snprintf(out, 200, "%.*s", (int)(token->length < 40 ? token->length : 40), token->start);
        return out;
    case TOKEN_NAME:
        if ((token->length == 4 && memcmp(token->text, "true", 4) == 0) || (token->length == 5 && memcmp(token->text, "false", 5) == 0))
            snprintf(out, 200, "%.*s", (int)token->length, token->text);
        else
            snprintf(out, 200, "the name %.*s", (int)(token->length < 40 ? token->length : 40), token->text);
        return out;
    case TOKEN_SYMBOL:
        break;
    }
    if (token->symbol == '{')
        return "a table";
    snprintf(out, 200, "\"%c\"", token->symbol);
    return out;
}

bool showfile__is_reserved(const char *name, size_t length)
{
    static const char words[] = " and break do else elseif end false for function goto if in local nil not or repeat return then true until while ";
    char word[16];
    if (length > 10)
        return false;
    snprintf(word, sizeof word, " %.*s ", (int)length, name);
    return strstr(words, word) != NULL;
}

/* Level of a long bracket that opens at `at` ("[[" 0, "[=[" 1, …), or -1. */
static long bracket_level(const char *at, const char *end)
{
    const char *c = at + 1;
    while (c < end && *c == '=')
        c++;
    return c < end && *c == '[' ? (long)(c - at - 1) : -1;
}

/* The closing bracket of a long bracket whose content starts at `at`, or NULL. */
static const char *bracket_close(const char *at, const char *end, long level)
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

const char *showfile__comment_end(const char *at, const char *end)
{
    const char *c = at + 2;
    long level = c < end && *c == '[' ? bracket_level(c, end) : -1;
    if (level >= 0) {
        c = bracket_close(c + level + 2, end, level);
        return c ? c + level + 2 : NULL;
    }
    while (c < end && *c != '\n' && *c != '\r')
        c++;
    return c;
}

static int wrong_utf8(struct lexer *lexer, const char *at, const char *what)
{
    return showfile__fail(lexer, at, "octet 0x%02x in %s, expected UTF-8", (unsigned char)*at, what);
}

static int skip_space(struct lexer *lexer)
{
    while (lexer->at < lexer->end) {
        char c = *lexer->at;
        if (c == ' ' || (c >= '\t' && c <= '\r')) {
            lexer->at++;
        } else if (c == '-' && lexer->end - lexer->at > 1 && lexer->at[1] == '-') {
            const char *end = showfile__comment_end(lexer->at, lexer->end);
            if (!end)
                return showfile__fail(lexer, lexer->at, "found a long comment without an end, expected its closing bracket");
            size_t length = (size_t)(end - lexer->at), good = utf8_check(lexer->at, length);
            if (good != length)
                return wrong_utf8(lexer, lexer->at + good, "a comment");
            lexer->at = end;
        } else {
            break;
        }
    }
    return 0;
}

static int too_long(struct lexer *lexer)
{
    return showfile__fail(lexer, lexer->token.start, "found a text of more than %u octets, expected at most that many", SHOWFILE_TEXT);
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
        return wrong_utf8(lexer, token->text + good, "a text");
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

static int quoted_text(struct lexer *lexer)
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
            return showfile__fail(lexer, token->start, "found a text without an end on its line, expected a closing %c", quote);
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

static int long_text(struct lexer *lexer, long level)
{
    struct token *token = &lexer->token;
    const char *from = lexer->at + level + 2, *close = bracket_close(from, lexer->end, level);
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

static bool is_name_octet(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_' || (c >= '0' && c <= '9');
}

bool showfile__is_name(const char *text, size_t length)
{
    if (length == 0 || (text[0] >= '0' && text[0] <= '9') || showfile__is_reserved(text, length))
        return false;
    while (length > 0 && is_name_octet(text[length - 1]))
        length--;
    return length == 0;
}

/* As Lua reads numerals: everything that could belong to one, which then must be one. */
static int number(struct lexer *lexer)
{
    struct token *token = &lexer->token;
    const char *c = lexer->at;
    bool hex = lexer->end - c > 1 && c[0] == '0' && (c[1] == 'x' || c[1] == 'X');
    for (; c < lexer->end && (is_name_octet(*c) || *c == '.'); c++) {
        bool exponent = hex ? *c == 'p' || *c == 'P' : *c == 'e' || *c == 'E';
        if (exponent && lexer->end - c > 1 && (c[1] == '+' || c[1] == '-'))
            c++;
    }
    token->kind = TOKEN_NUMBER;
    token->length = (size_t)(c - lexer->at);
    lexer->at = c;
    char found[200];
    if (!showfile__number_parse(token->start, token->length, &token->number))
        return showfile__fail(lexer, token->start, "found %s, expected a number", showfile__show_text(token->start, token->length, found));
    return 0;
}

static int symbol(struct lexer *lexer)
{
    char c = *lexer->at;
    if ((unsigned char)c <= ' ' || (unsigned char)c >= 0x7f)
        return showfile__fail(lexer, lexer->at, "found octet 0x%02x, expected the text of a show file", (unsigned char)c);
    lexer->token.kind = TOKEN_SYMBOL;
    lexer->token.symbol = c;
    lexer->at++;
    return 0;
}

int showfile__next(struct lexer *lexer)
{
    struct token *token = &lexer->token;
    int err = skip_space(lexer);
    if (err)
        return err;
    const char *start = token->start = lexer->at;
    if (start >= lexer->end) {
        token->kind = TOKEN_END;
        return 0;
    }
    if (*start == '"' || *start == '\'')
        return quoted_text(lexer);
    bool more = lexer->end - start > 1;
    if ((*start >= '0' && *start <= '9') || (*start == '.' && more && start[1] >= '0' && start[1] <= '9'))
        return number(lexer);
    if (is_name_octet(*start)) {
        while (lexer->at < lexer->end && is_name_octet(*lexer->at))
            lexer->at++;
        token->kind = TOKEN_NAME;
        token->text = start;
        token->length = (size_t)(lexer->at - start);
        return 0;
    }
    if (*start == '[' && more && (start[1] == '[' || start[1] == '=')) {
        long level = bracket_level(start, lexer->end);
        if (level >= 0)
            return long_text(lexer, level);
        return showfile__fail(lexer, start, "found \"[=\", expected a long bracket or a key");
    }
    return symbol(lexer);
}
