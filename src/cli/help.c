#include <string.h>

#include "cli.h"

/* Width of the left column: the longest "--name VALUE". */
static int label(const struct option *option, char *buffer, size_t size)
{
    const char *value = option->value ? option->value : "";
    char letter[6] = "";
    if (option->letter)
        snprintf(letter, sizeof letter, "-%c, ", option->letter);
    return snprintf(buffer, size, "%s--%s%s%s", letter, option->name, *value ? " " : "", value);
}

static void print_options(const struct command *command, FILE *out)
{
    char text[80];
    int width = (int)strlen("-h, --help");
    for (size_t i = 0; i < command->option_count; i++)
        if (!command->options[i].hidden && label(&command->options[i], text, sizeof text) > width)
            width = label(&command->options[i], text, sizeof text);
    fputs("\nOptions:\n", out);
    for (size_t i = 0; i < command->option_count; i++)
        if (!command->options[i].hidden) {
            label(&command->options[i], text, sizeof text);
            fprintf(out, "  %-*s  %s\n", width, text, command->options[i].help);
        }
    fprintf(out, "  %-*s  %s\n", width, "-h, --help", "show this help");
}

static void print_list(FILE *out)
{
    int width = 0;
    for (size_t i = 0; command_at(i); i++)
        if ((int)strlen(command_at(i)->name) > width)
            width = (int)strlen(command_at(i)->name);
    fputs("rigcall checks, patches and tests wireless lighting rigs by script.\n\n"
          "Usage: rigcall COMMAND [arguments] [options]\n\nCommands:\n", out);
    for (size_t i = 0; command_at(i); i++)
        fprintf(out, "  %-*s  %s\n", width, command_at(i)->name, command_at(i)->about);
    fputs("\nrigcall COMMAND --help explains a command and gives an example.\n\n"
          "Exit status: 0 done and nothing failed; 1 done, with failures; 2 wrong usage; 3 bad or missing file;\n"
          "4 network trouble; 5 script trouble; 6 refused by the guard.\n", out);
}

void help_print(const struct command *command, FILE *out)
{
    if (!command) {
        print_list(out);
        return;
    }
    fprintf(out, "Usage: rigcall %s%s%s%s\n\n%s\n", command->name, *command->words ? " " : "", command->words,
            command->option_count ? " [options]" : "", command->about);
    if (command->details)
        fprintf(out, "\n%s\n", command->details);
    print_options(command, out);
    fprintf(out, "\nExample:\n%s\n", command->example);
    if (command->cautions)
        fprintf(out, "\nCautions:\n%s\n", command->cautions);
}

static int run_help(const struct options *options)
{
    const struct command *command = NULL;
    if (options->word_count) {
        command = command_find(options->words[0]);
        if (!command)
            return command_unknown(options->words[0]);
    }
    help_print(command, stdout);
    return 0;
}

const struct command command_help = {
    .name = "help",
    .about = "Explains a command, or lists them all.",
    .words = "[COMMAND]",
    .words_most = 1,
    .example = "  rigcall help check",
    .run = run_help,
};
