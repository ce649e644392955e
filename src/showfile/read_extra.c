/* Reads the values of x_ keys, whatever data they hold, and keeps them as canonical Lua text. */
#include <string.h>

#include "read_internal.h"

#define EXPECTED "a text, a number, true, false or a table"

/* Lua tells 1 and 1.0 apart: a numeral with point or exponent stays a float. */
static bool is_float(const struct token *token)
{
    bool hex = token->length > 1 && (token->start[1] == 'x' || token->start[1] == 'X');
    for (size_t i = 0; i < token->length; i++)
        if (strchr(hex ? ".pP" : ".eE", token->start[i]))
            return true;
    return false;
}

static int number(struct reader *reader)
{
    static const struct key any = { "x_", VALUE_NUMBER, 0, 0, 0, NUMBER_LEAST, NUMBER_MOST, NULL };
    double value;
    const char *start;
    char found[200];
    int err = showfile__read_number(reader, EXPECTED, &value, &start);
    if (err)
        return err;
    if (!showfile__number_fits(&any, value))
        return showfile__read_fail(reader, start, "found %s%s, expected a number from -2147483648 to 2147483647",
                                   start == reader->lexer.token.start ? "" : "-", showfile__found(&reader->lexer, found));
    showfile__add_number(&reader->text, value);
    if (is_float(&reader->lexer.token) && value == (double)(int64_t)value)
        showfile__add_text(&reader->text, ".0");
    return 0;
}

static int checked_text(struct reader *reader)
{
    const struct token *token = &reader->lexer.token;
    int err = showfile__check_text(reader, VALUE_LINES);
    if (!err)
        showfile__add_quoted(&reader->text, token->text, token->length);
    return err;
}

static int value(struct reader *reader);

/* A key inside an x_ table has been read: note and write it. */
static int key(struct reader *reader, uint32_t table, const char *start, const char *name, size_t length, bool plain)
{
    const char *kept = show_text(reader->show, name, length);
    char found[200];
    if (!kept)
        return showfile__read_nomem(reader);
    int again = showfile__see(&reader->seen, table, kept);
    if (again > 0)
        return showfile__read_fail(reader, start, "found key %s again, expected each key once",
                                   showfile__show_text(name, length, found));
    if (again)
        return showfile__read_nomem(reader);
    if (plain) {
        showfile__add(&reader->text, name, length);
    } else {
        showfile__add_text(&reader->text, "[");
        showfile__add_quoted(&reader->text, name, length);
        showfile__add_text(&reader->text, "]");
    }
    showfile__add_text(&reader->text, " = ");
    return 0;
}

/* name = … or ["name"] = …; the token is "[" or a name. */
static int named(struct reader *reader, uint32_t table)
{
    struct lexer *lexer = &reader->lexer;
    const char *start = lexer->token.start;
    bool bracket = showfile__is_symbol(reader, '[');
    int err = bracket ? showfile__next(lexer) : 0;
    if (err)
        return err;
    if (bracket ? lexer->token.kind != TOKEN_TEXT : showfile__is_reserved(lexer->token.text, lexer->token.length))
        return showfile__unexpected(reader, bracket ? "a key as text" : EXPECTED);
    const struct token *token = &lexer->token;
    if (bracket && showfile__control(VALUE_TEXT, token->text, token->length) >= 0)
        return showfile__unexpected(reader, "a key without control characters");
    err = key(reader, table, start, token->text, token->length, showfile__is_name(token->text, token->length));
    if (!err)
        err = showfile__next(lexer);
    if (!err && bracket)
        err = showfile__take(reader, ']', "\"]\" after the key");
    if (!err)
        err = showfile__take(reader, '=', bracket ? "\"=\" after the key" : "\"=\" after the key, or a text in quotes");
    return err ? err : value(reader);
}

static bool is_flag(const struct token *token)
{
    return token->kind == TOKEN_NAME && ((token->length == 4 && memcmp(token->text, "true", 4) == 0) ||
                                         (token->length == 5 && memcmp(token->text, "false", 5) == 0));
}

static int entries(struct reader *reader)
{
    uint32_t table = ++reader->tables;
    int err = showfile__open(reader, EXPECTED);
    showfile__add_text(&reader->text, "{");
    size_t begin = reader->text.length;
    for (bool first = true; !err && !showfile__is_symbol(reader, '}'); first = false) {
        const struct token *token = &reader->lexer.token;
        showfile__add_text(&reader->text, first ? " " : ", ");
        bool has_key = (token->kind == TOKEN_NAME && !is_flag(token)) || showfile__is_symbol(reader, '[');
        err = showfile__count_item(reader);
        if (!err)
            err = has_key ? named(reader, table) : value(reader);
        if (!err)
            err = showfile__separator(reader);
    }
    if (err)
        return err;
    showfile__add_text(&reader->text, reader->text.length == begin ? "}" : " }");
    return showfile__close(reader);
}

static int value(struct reader *reader)
{
    const struct token *token = &reader->lexer.token;
    int err;
    if (reader->text.length > SHOWFILE_TEXT)
        return showfile__read_fail(reader, token->start, "found a value of more than %u octets, expected at most that many",
                                   SHOWFILE_TEXT);
    if (showfile__is_symbol(reader, '{'))
        return entries(reader);
    if (is_flag(token))
        showfile__add(&reader->text, token->text, token->length);
    if (is_flag(token))
        err = 0;
    else if (token->kind == TOKEN_TEXT)
        err = checked_text(reader);
    else if (token->kind == TOKEN_NUMBER || showfile__is_symbol(reader, '-'))
        err = number(reader);
    else
        err = showfile__unexpected(reader, EXPECTED);
    return err ? err : showfile__next(&reader->lexer);
}

int showfile__read_extra(struct reader *reader, const char **text)
{
    reader->text.length = 0;
    int err = value(reader);
    if (err)
        return err;
    if (!reader->text.failed)
        *text = show_text(reader->show, reader->text.bytes, reader->text.length);
    return reader->text.failed || !*text ? showfile__read_nomem(reader) : 0;
}
