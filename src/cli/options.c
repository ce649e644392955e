#include "options.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rigcall/nearest.h"

static const char *option_name(const void *context, size_t i)
{
    const struct options *options = context;
    return i < options->table_count ? options->table[i].name : NULL;
}

static const struct option *find_long(const struct options *options, const char *name, size_t length)
{
    for (size_t i = 0; i < options->table_count; i++)
        if (strlen(options->table[i].name) == length && !memcmp(options->table[i].name, name, length))
            return &options->table[i];
    return NULL;
}

static const struct option *find_letter(const struct options *options, char letter)
{
    for (size_t i = 0; i < options->table_count; i++)
        if (options->table[i].letter && options->table[i].letter == letter)
            return &options->table[i];
    return NULL;
}

static int unknown(const struct options *options, const char *argument, struct rig_why *why)
{
    char name[64];
    const char *bare = argument + strspn(argument, "-");
    snprintf(name, sizeof name, "%.*s", (int)strcspn(bare, "="), bare);
    const char *nearest = nearest_name(name, option_name, options);
    if (!nearest && !strncmp(argument, "--", 2) && name_distance(name, "help") <= 2)
        nearest = "help";
    if (nearest)
        return rig_fail(why, RIG_EUSAGE, "unknown option %s, nearest is --%s", argument, nearest);
    return rig_fail(why, RIG_EUSAGE, "unknown option %s", argument);
}

bool options_parse_number(const char *text, double *out)
{
    /* strtod would follow the locale's decimal sign and take hexadecimal, "inf" and "nan". */
    double value = 0, scale = 1;
    bool negative = *text == '-', digits = false;
    const char *c = text + (*text == '-' || *text == '+');
    for (; *c >= '0' && *c <= '9'; c++, digits = true)
        value = value * 10 + (*c - '0');
    if (*c == '.')
        for (c++; *c >= '0' && *c <= '9'; c++, digits = true) {
            value = value * 10 + (*c - '0');
            scale *= 10;
        }
    if (!digits || *c || !isfinite(value) || !isfinite(scale))
        return false;
    *out = (negative ? -value : value) / scale;
    return true;
}

static bool is_choice(const char *choices, const char *text)
{
    size_t length = strlen(text);
    for (const char *c = choices; *c; c += strspn(c, " ")) {
        size_t word = strcspn(c, " ");
        if (word == length && !memcmp(c, text, length))
            return true;
        c += word;
    }
    return false;
}

static int check_value(struct given *given, struct rig_why *why)
{
    const struct option *option = given->option;
    if (option->kind == OPTION_CHOICE && !is_choice(option->choices, given->text))
        return rig_fail(why, RIG_EUSAGE, "--%s: \"%s\", expected one of: %s", option->name, given->text, option->choices);
    if (option->kind != OPTION_NUMBER && option->kind != OPTION_INTEGER)
        return 0;
    const char *what = option->kind == OPTION_INTEGER ? "a whole number" : "a number";
    double number;
    if (!options_parse_number(given->text, &number) || number < option->least || number > option->most
        || (option->kind == OPTION_INTEGER && number != floor(number)))
        return rig_fail(why, RIG_EUSAGE, "--%s: \"%s\", expected %s from %g to %g", option->name, given->text, what,
                        option->least, option->most);
    given->number = number;
    return 0;
}

/* Record one option. value: text after '=' or behind a short option's letter, or NULL; *next: the argument after it. */
static int take(struct options *options, const struct option *option, const char *value, int *i, int count, char **arguments,
                struct rig_why *why)
{
    if (option->kind == OPTION_FLAG && value)
        return rig_fail(why, RIG_EUSAGE, "--%s takes no value", option->name);
    if (!option->repeat && options_has(options, option->name))
        return rig_fail(why, RIG_EUSAGE, "--%s is given twice", option->name);
    if (option->kind != OPTION_FLAG && !value) {
        if (*i + 1 >= count)
            return rig_fail(why, RIG_EUSAGE, "--%s needs a value: --%s %s", option->name, option->name, option->value);
        value = arguments[++*i];
    }
    struct given *given = &options->given[options->given_count++];
    *given = (struct given){ option, value ? value : "", 0 };
    return check_value(given, why);
}

static int parse_one(struct options *options, int *i, int count, char **arguments, struct rig_why *why)
{
    const char *argument = arguments[*i], *value = NULL;
    const struct option *option;
    if (!strcmp(argument, "--help") || !strcmp(argument, "-h")) {
        options->help = true;
        return 0;
    }
    if (argument[1] == '-') {
        const char *name = argument + 2, *equals = strchr(name, '=');
        option = find_long(options, name, equals ? (size_t)(equals - name) : strlen(name));
        value = equals ? equals + 1 : NULL;
    } else {
        option = find_letter(options, argument[1]);
        value = argument[2] ? argument + 2 : NULL;
    }
    if (!option)
        return unknown(options, argument, why);
    return take(options, option, value, i, count, arguments, why);
}

int options_parse(const struct option *table, size_t table_count, int count, char **arguments,
                  struct options *options, struct rig_why *why)
{
    *options = (struct options){ .table = table, .table_count = table_count };
    options->given = calloc((size_t)count + 1, sizeof *options->given);
    options->words = calloc((size_t)count + 1, sizeof *options->words);
    if (!options->given || !options->words)
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    bool ended = false;
    for (int i = 0; i < count; i++) {
        const char *argument = arguments[i];
        if (ended || argument[0] != '-' || !argument[1]) {
            options->words[options->word_count++] = argument;
        } else if (!strcmp(argument, "--")) {
            ended = true;
        } else {
            int err = parse_one(options, &i, count, arguments, why);
            if (err)
                return err;
        }
    }
    return 0;
}

void options_fini(struct options *options)
{
    free(options->given);
    free(options->words);
    options->given = NULL;
    options->words = NULL;
}

static const struct given *find_given(const struct options *options, const char *name)
{
    for (size_t i = 0; i < options->given_count; i++)
        if (!strcmp(options->given[i].option->name, name))
            return &options->given[i];
    return NULL;
}

bool options_has(const struct options *options, const char *name)
{
    return find_given(options, name) != NULL;
}

const char *options_text(const struct options *options, const char *name, const char *otherwise)
{
    const struct given *given = find_given(options, name);
    return given ? given->text : otherwise;
}

double options_number(const struct options *options, const char *name, double otherwise)
{
    const struct given *given = find_given(options, name);
    return given ? given->number : otherwise;
}

const char *options_next(const struct options *options, const char *name, size_t *at)
{
    while (*at < options->given_count) {
        const struct given *given = &options->given[(*at)++];
        if (!strcmp(given->option->name, name))
            return given->text;
    }
    return NULL;
}

void options_list_free(char **list, size_t count)
{
    for (size_t i = 0; i < count; i++)
        free(list[i]);
    free(list);
}

static int append(char ***list, size_t *count, const char *text, size_t length)
{
    char **grown = realloc(*list, (*count + 1) * sizeof *grown);
    if (!grown)
        return RIG_ENOMEM;
    *list = grown;
    grown[*count] = strndup(text, length);
    return grown[*count] ? (++*count, 0) : RIG_ENOMEM;
}

int options_list(const struct options *options, const char *name, char ***out, size_t *count, struct rig_why *why)
{
    char **list = NULL;
    size_t n = 0, at = 0;
    int err = 0;
    for (const char *text; !err && (text = options_next(options, name, &at));)
        for (const char *part = text; !err; part++) {
            size_t length = strcspn(part, ",");
            err = length ? append(&list, &n, part, length)
                         : rig_fail(why, RIG_EUSAGE, "--%s: \"%s\" has an empty part", name, text);
            part += length;
            if (!*part)
                break;
        }
    if (err) {
        options_list_free(list, n);
        return err == RIG_ENOMEM ? rig_fail(why, RIG_ENOMEM, "out of memory") : err;
    }
    *out = list;
    *count = n;
    return 0;
}
