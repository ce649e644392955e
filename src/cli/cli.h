/* What the commands share: their table, how they say things, and where their output goes. This room is the only one that
 * prints; main() is the only function that ends the process. */
#ifndef RIGCALL_CLI_H
#define RIGCALL_CLI_H

#include <stdbool.h>
#include <stdio.h>

#include "options.h"
#include "rigcall/error.h"

struct command {
    const char *name;
    const char *about;               /* one line of `rigcall help` */
    const char *words;               /* "SHOW SEQUENCE", for the usage line */
    size_t words_least, words_most;
    const struct option *options; size_t option_count;
    const char *details;             /* paragraphs of --help, or NULL */
    const char *example;             /* of --help */
    const char *cautions;            /* paragraphs of --help, or NULL */
    /** @return the exit status of the process, 0..6 */
    int (*run)(const struct options *options);
    /** What --help does when at least one and at most words_most words were given, or NULL: the same as without. @return as run */
    int (*explain)(const struct options *options);
};

extern const struct command command_new, command_check, command_patch, command_swap, command_move, command_run, command_listen,
    command_import, command_export, command_help, command_version;

/** The i-th command, in the order of `rigcall help`, or NULL past the last. */
const struct command *command_at(size_t i);
/** @return NULL when there is no such command */
const struct command *command_find(const char *name);
/** Say that a command does not exist, with the nearest one. @return the exit status */
int command_unknown(const char *name);

/** Print --help of one command, or with NULL the list of commands. */
void help_print(const struct command *command, FILE *out);

/** Print one line "rigcall: text" (bad input of a file: "path:line:column: text") to stderr.
 * @return the exit status of the code in why */
int say_failure(const struct rig_why *why);
/** printf a "rigcall: ..." line to stderr. */
void say(const char *format, ...) __attribute__((format(printf, 1, 2)));
/** Wrong usage: print the line. @return 2 */
int say_usage(const char *format, ...) __attribute__((format(printf, 1, 2)));
/** Colour belongs on a terminal, and never with NO_COLOR (any non-empty value) or TERM=dumb. */
bool colour_wanted(FILE *stream);

#endif
