/* Shared by the parts of the reader. */
#ifndef RIGCALL_SHOWFILE_READ_INTERNAL_H
#define RIGCALL_SHOWFILE_READ_INTERNAL_H

#include "showfile_internal.h"

/* Which object is being read, for messages: "transmitter T1: lane 3: universe: …". Frames live on the C stack. */
struct frame {
    const struct frame *up;
    const struct object *object;
    const void *into;
    const char *key;                 /* being read, or NULL */
    uint32_t seen;                   /* bit per key of the table */
};

struct reader {
    struct lexer lexer;
    struct show *show;
    struct frame *frame;
    struct { char *bytes; size_t used, room; } stack;    /* entries of lists that are not complete */
    struct buffer text;              /* canonical text of the x_ value that is being read */
    struct seen seen;
    uint32_t items, objects, depth, tables;
};

/** Fail at the start of the token with where, what was found, and what was expected. */
int showfile__read_fail(struct reader *reader, const char *at, const char *format, ...) __attribute__((format(printf, 3, 4)));
/** Fail because the token is not what it must be. */
int showfile__unexpected(struct reader *reader, const char *expected);
int showfile__read_nomem(struct reader *reader);
/** Count one more table, list entry or x_ key. @return 0 or RIG_EINPUT */
int showfile__count_item(struct reader *reader);

static inline bool showfile__is_symbol(const struct reader *reader, char symbol)
{
    return reader->lexer.token.kind == TOKEN_SYMBOL && reader->lexer.token.symbol == symbol;
}
/** The token must be `symbol`; read the next one. */
int showfile__take(struct reader *reader, char symbol, const char *expected);
/** Enter a table: take "{" and count the depth. */
int showfile__open(struct reader *reader, const char *expected);
/** After an entry: take a separator, or stay at "}". */
int showfile__separator(struct reader *reader);
/** Leave a table: the token is "}", read the next one. */
int showfile__close(struct reader *reader);

/** Read the number at the token, with its sign; *start is where it begins. @return 0, or RIG_EINPUT when there is none */
int showfile__read_number(struct reader *reader, const char *expected, double *number, const char **start);
/** Check the text at the token for control characters. @return 0 or RIG_EINPUT */
int showfile__check_text(struct reader *reader, enum value_kind kind);
/** The same, and intern it. @return 0, RIG_EINPUT, RIG_ENOMEM */
int showfile__read_text(struct reader *reader, enum value_kind kind, const char **text);

/** Push an entry of an unfinished list. */
int showfile__push(struct reader *reader, const void *entry, size_t size);
/** Move what was pushed since `base` into the show's memory. */
int showfile__pop(struct reader *reader, size_t base, size_t size, void *list, uint32_t *count);

/** Read the value of a key into its place in the struct `into`. The token after it is read. */
int showfile__read_value(struct reader *reader, const struct key *key, void *into);
/** Read a table of keys. */
int showfile__read_object(struct reader *reader, const struct object *object, void *into);

/** Read an x_ value; `text` gets its canonical Lua text, interned. */
int showfile__read_extra(struct reader *reader, const char **text);

#endif
