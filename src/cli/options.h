/* Command-line options, one table per command. The same table drives parsing, checking and --help, so they cannot disagree.
 * Knows no command and prints nothing. */
#ifndef RIGCALL_CLI_OPTIONS_H
#define RIGCALL_CLI_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>

#include "rigcall/error.h"

enum option_kind {
    OPTION_FLAG,                     /* takes no value */
    OPTION_TEXT,                     /* any value */
    OPTION_NUMBER,                   /* least..most */
    OPTION_INTEGER,                  /* least..most, no fraction */
    OPTION_CHOICE                    /* one of `choices` */
};

struct option {
    const char *name;                /* long name without the dashes */
    char letter;                     /* short name, 0 for none */
    enum option_kind kind;
    bool repeat;                     /* may be given more than once */
    bool hidden;                     /* parsed, but not in --help */
    double least, most;
    const char *value;               /* "HZ": what help calls the value */
    const char *choices;             /* "text json", for OPTION_CHOICE */
    const char *help;                /* one line */
};

/* What a command was given. Texts are borrowed from argv. */
struct options {
    const struct option *table; size_t table_count;
    struct given { const struct option *option; const char *text; double number; } *given; size_t given_count;
    const char **words; size_t word_count;                   /* what is not an option, in order */
    bool help;                       /* --help or -h was among them */
};

/** Parse the arguments after the command's name. Options may stand anywhere; `--` ends them; `-` is a word.
 * Long options take their value after `=` or as the next argument.
 * @param arguments  borrowed for the life of `options`
 * @return 0, RIG_EUSAGE (why names the option and the nearest known one), RIG_ENOMEM; free with options_fini() in either case */
int options_parse(const struct option *table, size_t table_count, int count, char **arguments,
                  struct options *options, struct rig_why *why);
void options_fini(struct options *options);

bool options_has(const struct options *options, const char *name);
/** @return the value of a text or choice, or `otherwise` */
const char *options_text(const struct options *options, const char *name, const char *otherwise);
double options_number(const struct options *options, const char *name, double otherwise);
/** Walk the values of an option that may repeat. @param at  start with 0. @return NULL after the last */
const char *options_next(const struct options *options, const char *name, size_t *at);
/** All values of an option, each split at commas, empty parts refused.
 * @param out  malloc'd array of malloc'd texts; free with options_list_free(). @return 0, RIG_EUSAGE, RIG_ENOMEM */
int options_list(const struct options *options, const char *name, char ***out, size_t *count, struct rig_why *why);
void options_list_free(char **list, size_t count);

/** Read a decimal number by the "C" rules, whatever the locale: the whole text, finite. @return false when it is none */
bool options_parse_number(const char *text, double *out);

#endif
