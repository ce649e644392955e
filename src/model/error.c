#include "rigcall/error.h"

#include <stdio.h>

static int fail(struct rig_why *why, int code, unsigned long line, unsigned long column, const char *format, va_list args)
{
    if (!why)
        return code;
    why->code = code;
    why->line = line;
    why->column = column;
    vsnprintf(why->text, sizeof why->text, format, args);
    for (char *c = why->text; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            *c = '?';                 /* a hostile file must not steer the reader's terminal */
    return code;
}

int rig_fail_at(struct rig_why *why, int code, unsigned long line, unsigned long column, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fail(why, code, line, column, format, args);
    va_end(args);
    return code;
}

int rig_fail(struct rig_why *why, int code, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fail(why, code, 0, 0, format, args);
    va_end(args);
    return code;
}

const char *rig_error_name(int code)
{
    switch (code) {
    case RIG_OK:
        return "RIG_OK";
#define NAME(name, number, status, text) case name: return #name;
    RIG_ERRORS(NAME)
#undef NAME
    default:
        return "?";
    }
}

int rig_exit_status(int code)
{
    switch (code) {
#define STATUS(name, number, status, text) case name: return status;
    RIG_ERRORS(STATUS)
#undef STATUS
    default:
        return 0;
    }
}
