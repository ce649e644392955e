/* Shared inside the showfile room: the table of keys, the lexer, numbers as text, and a buffer that grows. */
#ifndef RIGCALL_SHOWFILE_INTERNAL_H
#define RIGCALL_SHOWFILE_INTERNAL_H

#include <stdarg.h>

#include "rigcall/showfile.h"

#define SHOWFILE_TEXT (64u << 10)    /* longest text, and longest canonical value of an x_ key, octets */
#define SHOWFILE_LIST 65536u         /* longest list inside one object */
#define SHOWFILE_MODES 256u          /* modes of one type */
#define NUMBER_LEAST (-2147483648.0)
#define NUMBER_MOST 2147483647.0

/* ---- the table of keys ---- */

enum value_kind {
    VALUE_FORMAT,                    /* the number 1: `rigcall = 1` */
    VALUE_ID, VALUE_TEXT, VALUE_LINES,               /* const char *; lines may hold line ends and tabs */
    VALUE_INTEGER, VALUE_NUMBER, VALUE_FLAG,         /* int64_t, double, bool */
    VALUE_POSITION,                  /* struct position */
    VALUE_AIR, VALUE_HAZARD, VALUE_INPUT,            /* one word: an enum */
    VALUE_AIRS,                      /* unsigned, a set of AIR_BIT() */
    VALUE_WORDS,                     /* const char ** and a count */
    VALUE_SLOTS,                     /* struct slot * and a count */
    VALUE_OBJECT,                    /* one table of keys of its own, inside the same struct */
    VALUE_OBJECTS                    /* a list of such tables */
};

enum { KEY_REQUIRED = 1, KEY_ALWAYS = 2 };           /* must be given; written even when empty or the default */

struct object;
struct key {
    const char *name;
    enum value_kind kind;
    unsigned flags;
    size_t offset;                   /* of the value in the struct of the object */
    size_t count;                    /* offset of a list's uint32_t count; of the bool that tells whether an object is there, or 0 */
    double least, most;              /* of numbers, both allowed */
    const struct object *of;         /* VALUE_OBJECT and VALUE_OBJECTS */
};
struct object {
    const char *name;                /* as messages say it */
    const struct key *keys;          /* in the order in which they are written */
    unsigned count;
    size_t size;                     /* of the struct; 0 for VALUE_OBJECT */
    size_t extras;                   /* offset of struct extras, or 0: no x_ keys */
    void *(*add)(struct show *show); /* appends one to the show; NULL for what lives inside another object */
    uint32_t limit;                  /* most of them in one list */
};
extern const struct object showfile__show, showfile__type, showfile__mode, showfile__transmitter, showfile__fixture, showfile__quiet,
    showfile__keep_out;

/** Find a key; `guess` is tried first. @return index or object->count */
unsigned showfile__key(const struct object *object, const char *name, size_t length, unsigned guess);
/** The known key with the least edit distance (swapped neighbours count once); the first of equals. */
const char *showfile__nearest(const struct object *object, const char *name, size_t length);
/** Set every value to "not given". */
void showfile__clear(const struct object *object, void *into);
/** True if the value would be written. */
bool showfile__given(const struct key *key, const void *from);
/** What a key's value must be, in words: "an integer from 1 to 2147483647".
 * @param range  say the range of a number also when it is the one that all numbers have */
void showfile__expected(const struct key *key, bool range, char *buffer, size_t size);
/** The word of an enum value of VALUE_AIR, VALUE_HAZARD or VALUE_INPUT; NULL for "not given". */
const char *showfile__word(enum value_kind kind, unsigned value);
/** The enum value of a word, 0 when there is none. */
unsigned showfile__word_value(enum value_kind kind, const char *text, size_t length);
/** True if text is 1 to 32 of A-Z a-z 0-9 _ . - */
bool showfile__is_id(const char *text, size_t length);
/** True if the key may have this number: in range, and whole where an integer belongs. */
bool showfile__number_fits(const struct key *key, double number);
/** The first character that `kind` of text must not hold, or -1: controls, but in VALUE_LINES line ends and tabs are fine. Checked UTF-8. */
long showfile__control(enum value_kind kind, const char *text, size_t length);

static inline void *showfile__at(const void *object, size_t offset)
{
    return (char *)object + offset;
}

/* ---- numbers as text, whatever the locale ---- */

/** Read an unsigned Lua numeral, the whole of it. Infinity is given back as such.
 * @return false if it is none */
bool showfile__number_parse(const char *text, size_t length, double *number);

/* ---- a buffer ---- */

struct buffer { char *bytes; size_t length, room; bool failed; };    /* failed sticks: memory was short */
void showfile__add(struct buffer *buffer, const char *bytes, size_t length);
void showfile__add_text(struct buffer *buffer, const char *text);
void showfile__add_number(struct buffer *buffer, double number);
/** A Lua text in double quotes, canonical: only quote, backslash and controls are escaped. */
void showfile__add_quoted(struct buffer *buffer, const char *text, size_t length);
/** Give the bytes, NUL-terminated, to the caller and leave the buffer empty. @return 0 or RIG_ENOMEM */
int showfile__buffer_take(struct buffer *buffer, char **out, size_t *length, struct rig_why *why);

/** Quote untrusted octets for a message: at most about 40 of them, wrong and control ones as \xNN. @return out */
const char *showfile__show_text(const char *text, size_t length, char out[200]);

/** A path for a message: of a long one its end, so that the sentence behind it has room. @return name or out */
const char *showfile__short_name(const char *name, char out[320]);

/* ---- the lexer ---- */

enum token_kind { TOKEN_END, TOKEN_NAME, TOKEN_TEXT, TOKEN_NUMBER, TOKEN_SYMBOL };
struct token {
    enum token_kind kind;
    const char *start;               /* in the source */
    const char *text;                /* of names and texts; of texts until the next token is read */
    size_t length;
    double number;
    char symbol;
};
struct lexer {
    const char *name;                /* of the file */
    const char *text, *at, *end;
    struct token token;
    char *scratch;                   /* SHOWFILE_TEXT octets for texts with escapes; made when first needed */
    struct rig_why *why;
};
/** Step over a UTF-8 byte order mark at the beginning, as Lua does. */
void showfile__skip_mark(struct lexer *lexer);
/** Read the next token into lexer->token. @return 0, RIG_EINPUT, RIG_ENOMEM */
int showfile__next(struct lexer *lexer);
/** Fail at a place in the source with "name:line:column: …". */
int showfile__fail(struct lexer *lexer, const char *at, const char *format, ...) __attribute__((format(printf, 3, 4)));
int showfile__vfail(struct lexer *lexer, const char *at, const char *before, const char *format, va_list args);
/** What the token is, for messages. @return out */
const char *showfile__found(const struct lexer *lexer, char out[200]);
bool showfile__is_reserved(const char *name, size_t length);
/** True if text can stand as a Lua name. */
bool showfile__is_name(const char *text, size_t length);
/** Skip a comment at `at`, which points to "--". @return its end, or NULL if a long comment does not end */
const char *showfile__comment_end(const char *at, const char *end);

/* ---- a set of keys ---- */

struct seen { struct seen_key { const char *key; uint32_t table; } *cells; uint32_t mask, count; };      /* free(cells) */
/** Note that table number `table` has this (interned) key. @return 0, 1 if it has it already, RIG_ENOMEM */
int showfile__see(struct seen *seen, uint32_t table, const char *key);

#endif
