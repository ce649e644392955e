#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli.h"

static void say_line(const char *format, va_list args)
{
    char text[RIG_WHY_TEXT + 256];
    vsnprintf(text, sizeof text, format, args);
    for (char *c = text; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            *c = '?';                 /* an argument or a file must not steer the reader's terminal */
    fprintf(stderr, "%s\n", text);
}

void say(const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fputs("rigcall: ", stderr);
    say_line(format, args);
    va_end(args);
}

int say_usage(const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fputs("rigcall: ", stderr);
    say_line(format, args);
    va_end(args);
    return rig_exit_status(RIG_EUSAGE);
}

int say_failure(const struct rig_why *why)
{
    /* path:line:column at the start of a line is what editors jump to */
    if (!why->line)
        fputs("rigcall: ", stderr);
    fprintf(stderr, "%s\n", why->text);
    return rig_exit_status(why->code);
}

bool colour_wanted(FILE *stream)
{
    const char *no_colour = getenv("NO_COLOR"), *term = getenv("TERM");
    if ((no_colour && *no_colour) || (term && !strcmp(term, "dumb")))
        return false;
    return isatty(fileno(stream)) == 1;
}
