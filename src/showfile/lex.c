/* Splits a show file into names, texts, numbers and symbols as the Lua 5.4 manual, section 3.1, has them. Positions are
 * kept as pointers; lines and columns are counted only when something is wrong. */
#include <stdio.h>
#include <string.h>

#include "lex_internal.h"

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

int showfile__vfail(struct lexer *lexer, const char *at, const char *before, const char *format, va_list args)
{
    char sentence[600], name[320];
    unsigned long line, column;
    locate(lexer, at, &line, &column);
    vsnprintf(sentence, sizeof sentence, format, args);
    return rig_fail_at(lexer->why, RIG_EINPUT, line, column, "%s:%lu:%lu: %s%s", showfile__short_name(lexer->name, name),
                       line, column, before, sentence);
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
        if ((token->length == 4 && memcmp(token->text, "true", 4) == 0) ||
            (token->length == 5 && memcmp(token->text, "false", 5) == 0))
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
    static const char words[] =
        " and break do else elseif end false for function goto if in local nil not or repeat return then true until while ";
    char word[16];
    if (length > 10)
        return false;
    snprintf(word, sizeof word, " %.*s ", (int)length, name);
    return strstr(words, word) != NULL;
}

const char *showfile__comment_end(const char *at, const char *end)
{
    const char *c = at + 2;
    long level = c < end && *c == '[' ? showfile__bracket_level(c, end) : -1;
    if (level >= 0) {
        c = showfile__bracket_close(c + level + 2, end, level);
        return c ? c + level + 2 : NULL;
    }
    while (c < end && *c != '\n' && *c != '\r')
        c++;
    return c;
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
                return showfile__wrong_utf8(lexer, lexer->at + good, "a comment");
            lexer->at = end;
        } else {
            break;
        }
    }
    return 0;
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
        return showfile__fail(lexer, token->start, "found %s, expected a number",
                              showfile__show_text(token->start, token->length, found));
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

void showfile__skip_mark(struct lexer *lexer)
{
    if (lexer->end - lexer->at >= 3 && memcmp(lexer->at, "\xef\xbb\xbf", 3) == 0)
        lexer->at += 3;
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
        return showfile__quoted_text(lexer);
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
        long level = showfile__bracket_level(start, lexer->end);
        if (level >= 0)
            return showfile__long_text(lexer, level);
        return showfile__fail(lexer, start, "found \"[=\", expected a long bracket or a key");
    }
    return symbol(lexer);
}
