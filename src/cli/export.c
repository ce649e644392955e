#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "output.h"
#include "rigcall/showfile.h"

static const struct option export_options[] = {
    { .name = "of", .kind = OPTION_CHOICE, .value = "KIND", .choices = "fixtures transmitters",
      .help = "fixtures or transmitters" },
    { .name = "output", .letter = 'o', .kind = OPTION_TEXT, .value = "FILE",
      .help = "write to FILE instead of standard output" },
};

static int run_export(const struct options *options)
{
    struct rig_why why;
    struct show *show = NULL;
    struct output output = { 0 };
    char *bytes = NULL;
    size_t length = 0;
    const char *of = options_text(options, "of", NULL);
    if (strcmp(options->words[1], "csv"))
        return say_usage("export: \"%s\" is no known form, expected csv", options->words[1]);
    if (!of)
        return say_usage("export needs --of fixtures or --of transmitters");
    int err = showfile_load(options->words[0], &show, &why);
    if (!err)
        err = csv_export(show, !strcmp(of, "fixtures") ? CSV_FIXTURES : CSV_TRANSMITTERS, &bytes, &length, &why);
    if (!err)
        err = output_open(&output, options_text(options, "output", NULL), &why);
    if (!err) {
        fwrite(bytes, 1, length, output.stream);
        err = output_close(&output, &why);
    }
    output_drop(&output);
    free(bytes);
    show_free(show);
    return err ? say_failure(&why) : 0;
}

const struct command command_export = {
    .name = "export",
    .about = "Writes fixtures or transmitters as CSV.",
    .words = "SHOW csv",
    .words_least = 2, .words_most = 2,
    .options = export_options, .option_count = sizeof export_options / sizeof export_options[0],
    .details = "One row an object, with a header of column names, as RFC 4180 says. rigcall import reads the same columns back.",
    .example = "  rigcall export harbour.show.lua csv --of fixtures -o fixtures.csv",
    .run = run_export,
};
