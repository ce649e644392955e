/* The crew at the terminal: questions out, answers in. */
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "run.h"

static void put(const struct terminal *terminal, const char *text, size_t length)
{
    while (length) {
        ssize_t written = write(terminal->fd, text, length);
        if (written < 0 && errno != EINTR)
            return;
        text += written > 0 ? written : 0;
        length -= written > 0 ? (size_t)written : 0;
    }
}

/* dprintf leaks its buffer when the terminal has gone (glibc 2.36). */
void terminal_print(const struct terminal *terminal, const char *format, ...)
{
    char text[2048];
    va_list args;
    va_start(args, format);
    int length = vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (length > 0)
        put(terminal, text, (size_t)length < sizeof text ? (size_t)length : sizeof text - 1);
}

void terminal_open(struct terminal *terminal)
{
    *terminal = (struct terminal){ .fd = open("/dev/tty", O_RDWR | O_CLOEXEC | O_NOCTTY), .own = true };
    if (terminal->fd < 0 && isatty(STDIN_FILENO) == 1)
        *terminal = (struct terminal){ .fd = STDIN_FILENO };
}

void terminal_close(struct terminal *terminal)
{
    if (terminal->fd >= 0 && terminal->own)
        close(terminal->fd);
    terminal->fd = -1;
}

/* What was typed before the question was there answers nothing. */
static void forget_typed(struct terminal *terminal)
{
    tcflush(terminal->fd, TCIFLUSH);
    terminal->length = 0;
}

/* Read what there is. @return true when a whole line (or the end of input) is in terminal->line, its end removed */
static bool read_line(struct terminal *terminal)
{
    size_t room = sizeof terminal->line - 1 - terminal->length;
    ssize_t got = read(terminal->fd, terminal->line + terminal->length, room);
    if (got < 0 && (errno == EINTR || errno == EAGAIN))
        return false;
    if (got <= 0)
        terminal->ended = true;
    else
        terminal->length += (size_t)got;
    terminal->line[terminal->length] = '\0';
    char *end = strchr(terminal->line, '\n');
    if (end)
        *end = '\0';
    return end || terminal->ended || terminal->length == sizeof terminal->line - 1;
}

bool terminal_confirm(struct terminal *terminal, const char *text, const char *word)
{
    forget_typed(terminal);
    put(terminal, text, strlen(text));
    terminal_print(terminal, "\nType %s to go on, anything else stops: ", word);
    while (!read_line(terminal))
        ;
    terminal->length = 0;
    return !strcmp(terminal->line, word);
}

void terminal_ask(void *context, const char *subject, const char *question)
{
    struct terminal *terminal = context;
    forget_typed(terminal);
    terminal_print(terminal, "%s%s%s [y, n or s to skip; then a note if you like] ", subject ? subject : "",
                   subject && *subject ? ": " : "", question);
}

static bool parse_answer(const char *line, enum crew_answer *answer, const char **note)
{
    static const struct { const char *word; enum crew_answer answer; } words[] = {
        { "y", CREW_YES }, { "yes", CREW_YES }, { "n", CREW_NO }, { "no", CREW_NO }, { "s", CREW_SKIP }, { "skip", CREW_SKIP },
    };
    line += strspn(line, " \t");
    size_t length = strcspn(line, " \t");
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strlen(words[i].word) == length && !memcmp(words[i].word, line, length)) {
            *answer = words[i].answer;
            *note = line + length + strspn(line + length, " \t");
            return true;
        }
    return false;
}

bool terminal_read(void *context, enum crew_answer *answer, char *note, size_t note_size)
{
    struct terminal *terminal = context;
    const char *typed = "";
    if (!read_line(terminal))
        return false;
    terminal->length = 0;
    if (terminal->ended) {
        *answer = CREW_SKIP;          /* nobody types any more: every later question is skipped as well */
        snprintf(note, note_size, "the terminal has ended");
        return true;
    }
    if (!parse_answer(terminal->line, answer, &typed)) {
        terminal_print(terminal, "y, n or s? ");
        return false;
    }
    size_t length = utf8_check(typed, strlen(typed));
    snprintf(note, note_size, "%.*s", (int)utf8_cut(typed, length, note_size - 1), typed);
    for (char *c = note; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            *c = '?';
    return true;
}
