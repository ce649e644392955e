/* What went wrong, as a code and a sentence. Every fallible function of the library returns 0 or a negative code of
 * this list and, when the caller gave one, fills a struct rig_why. Nothing here prints or exits. */
#ifndef RIGCALL_ERROR_H
#define RIGCALL_ERROR_H

#include <stdarg.h>
#include <stddef.h>

/* X(name, number, exit status of the command, text) */
#define RIG_ERRORS(X) \
    X(RIG_EUSAGE,  -1, 2, "wrong usage") \
    X(RIG_EINPUT,  -2, 3, "bad input") \
    X(RIG_EIO,     -3, 3, "cannot read or write") \
    X(RIG_ENOMEM,  -4, 3, "out of memory") \
    X(RIG_ENET,    -5, 4, "network trouble") \
    X(RIG_ESCRIPT, -6, 5, "script trouble") \
    X(RIG_EGUARD,  -7, 6, "refused by the guard") \
    X(RIG_EFAILED, -8, 1, "done, with failures")

enum rig_error {
    RIG_OK = 0,
#define RIG_ERROR_ENUM(name, number, status, text) name = number,
    RIG_ERRORS(RIG_ERROR_ENUM)
#undef RIG_ERROR_ENUM
};

#define RIG_WHY_TEXT 1024

/* Detail of a failure. `text` is one line, UTF-8, NUL-terminated, without a line end; control characters in it have been
 * replaced. line and column count from 1; 0 when there is none. */
struct rig_why {
    int code;
    unsigned long line;
    unsigned long column;
    char text[RIG_WHY_TEXT];
};

/** Fill a why and return its code.
 * @param why   may be NULL; an earlier content is overwritten
 * @param code  one of enum rig_error, returned unchanged
 * @param line,column  position in the input, from 1, or 0
 * @param format  printf format of the sentence: the thing, the value found, what was expected */
int rig_fail_at(struct rig_why *why, int code, unsigned long line, unsigned long column, const char *format, ...)
    __attribute__((format(printf, 5, 6)));

/** The same without a position. */
int rig_fail(struct rig_why *why, int code, const char *format, ...) __attribute__((format(printf, 3, 4)));

/** Name ("RIG_EINPUT") of a code; "RIG_OK" for 0, "?" for an unknown one. Static text. */
const char *rig_error_name(int code);

/** Exit status (0..6) a command ends with for a code. */
int rig_exit_status(int code);

#endif
