/* The program: finds the command, parses its options, runs it, and makes sure that what it printed has arrived. */
#include <errno.h>
#include <signal.h>
#include <string.h>

#include "cli.h"
#include "rigcall/nearest.h"

static const struct command *const commands[] = {
    &command_new, &command_check, &command_patch, &command_swap, &command_move, &command_run, &command_listen,
    &command_import, &command_export, &command_help, &command_version,
};

const struct command *command_at(size_t i)
{
    return i < sizeof commands / sizeof commands[0] ? commands[i] : NULL;
}

const struct command *command_find(const char *name)
{
    for (size_t i = 0; command_at(i); i++)
        if (!strcmp(command_at(i)->name, name))
            return command_at(i);
    return NULL;
}

static const char *command_name_at(const void *context, size_t i)
{
    (void)context;
    return command_at(i) ? command_at(i)->name : NULL;
}

int command_unknown(const char *name)
{
    const char *nearest = nearest_name(name, command_name_at, NULL);
    if (nearest)
        return say_usage("unknown command %s, nearest is %s", name, nearest);
    return say_usage("unknown command %s; rigcall help lists the commands", name);
}

static int run_command(const struct command *command, int count, char **arguments)
{
    struct options options;
    struct rig_why why;
    int status = 0;
    if (options_parse(command->options, command->option_count, count, arguments, &options, &why))
        status = say_usage("%s: %s; rigcall %s --help explains", command->name, why.text, command->name);
    else if (options.help && command->explain && options.word_count && options.word_count <= command->words_most)
        status = command->explain(&options);
    else if (options.help)
        help_print(command, stdout);
    else if (options.word_count < command->words_least)
        status = say_usage("%s needs %s; rigcall %s --help explains", command->name, command->words, command->name);
    else if (options.word_count > command->words_most)
        status = say_usage("%s: one argument too many, \"%s\"; rigcall %s --help explains", command->name,
                           options.words[command->words_most], command->name);
    else
        status = command->run(&options);
    options_fini(&options);
    return status;
}

static int run_arguments(int argc, char **argv)
{
    const char *first = argc > 1 ? argv[1] : NULL;
    if (!first) {
        help_print(NULL, stderr);
        return rig_exit_status(RIG_EUSAGE);
    }
    if (!strcmp(first, "--help") || !strcmp(first, "-h")) {
        help_print(NULL, stdout);
        return 0;
    }
    if (!strcmp(first, "--version"))
        first = "version";
    if (*first == '-')
        return say_usage("unknown option %s; rigcall help lists the commands", first);
    const struct command *command = command_find(first);
    return command ? run_command(command, argc - 2, argv + 2) : command_unknown(first);
}

int main(int argc, char **argv)
{
    /* A reader that goes away (a pager, head) must not end a live run by a signal before the levels are back. */
    signal(SIGPIPE, SIG_IGN);
    int status = run_arguments(argc, argv);
    errno = 0;
    if ((fflush(stdout) || ferror(stdout)) && errno != EPIPE) {
        say("cannot write to standard output: %s", errno ? strerror(errno) : "write error");
        return rig_exit_status(RIG_EIO);
    }
    return status;
}
