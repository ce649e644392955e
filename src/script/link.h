/* The link between the engine and a script host: messages over one SOCK_SEQPACKET pair, at most 64 KiB each. A message is a
 * head and records; what a host says is read by link_open() and link_next(), which trust nothing: sizes first, then copies,
 * and every index, enum, number and text is checked against the show. No Lua and no engine here. */
#ifndef RIGCALL_SCRIPT_LINK_H
#define RIGCALL_SCRIPT_LINK_H

#include <sys/types.h>

#include "rigcall/script.h"

#define LINK_BYTES 65536u            /* longest message */
#define LINK_MAGIC 0x4b4c4352u       /* "RCLK" */
#define LINK_LAST 1u                 /* flag: the last part of a batch; its last record says what the host waits for */
#define LINK_OTHERS 1000u            /* other subjects of one finding */
#define LINK_FINDING_TEXT 1000u      /* octets */
#define LINK_LINE_TEXT 400u          /* octets of one line of say or print */
#define LINK_QUESTION_TEXT 1000u
#define LINK_ERROR_TEXT 900u
#define LINK_PRINTS 200u             /* lines of print a script; then one line says that there were more */
#define LINK_COMMANDS 5000000u       /* set, fade, slot and clear of a burst: more than half a second of Lua can make */
#define LINK_QUESTIONS 100u          /* of a swap policy */
#define LINK_SAYS 100u               /* lines of say a burst; then one line says that there were more */
#define LINK_TIME_NS ((int64_t)(ENGINE_TIME_LIMIT_S * 1e9))
#define LINK_BURST_NS 1000000        /* a wait that moves time on by less begins no new burst: wait(0) must not escape the limit */

/* X(name, terminal): a terminal record ends a batch and leaves the host waiting, or gone. */
#define LINK_OPS(X) \
    X(PRINT, 0) X(FINDING, 0) X(SET, 0) X(FADE, 0) X(SLOT, 0) X(CLEAR, 0) X(SAY, 0) \
    X(ABOUT, 1) X(WAIT, 1) X(ASK, 1) X(FADES, 1) X(DONE, 1) X(ERROR, 1) X(VERDICT, 1)
enum link_op {
#define LINK_OP_ENUM(name, terminal) LINK_##name,
    LINK_OPS(LINK_OP_ENUM)
#undef LINK_OP_ENUM
    LINK_OP_COUNT
};
#define LINK_BIT(op) (1u << (op))
#define LINK_ALLOW_LOAD (LINK_BIT(LINK_PRINT) | LINK_BIT(LINK_ABOUT) | LINK_BIT(LINK_ERROR))
#define LINK_ALLOW_RULE (LINK_BIT(LINK_PRINT) | LINK_BIT(LINK_FINDING) | LINK_BIT(LINK_DONE) | LINK_BIT(LINK_ERROR))
#define LINK_ALLOW_SEQUENCE ((LINK_BIT(LINK_OP_COUNT) - 1) & ~(LINK_BIT(LINK_FINDING) | LINK_BIT(LINK_ABOUT) | LINK_BIT(LINK_VERDICT)))
#define LINK_ALLOW_SWAP (LINK_BIT(LINK_PRINT) | LINK_BIT(LINK_ASK) | LINK_BIT(LINK_VERDICT) | LINK_BIT(LINK_ERROR))

/* ---- on the wire: native byte order, every struct a multiple of 8 octets ---- */

struct link_head { uint32_t magic; uint16_t flags, records; };
struct link_record_head { uint16_t op, zero; uint32_t size; };          /* size: of the whole record, a multiple of 8 */

struct link_wire_text { uint32_t length, value; };                      /* then the text. ASK: value is the fixture; VERDICT: the plan, 0 none */
struct link_wire_command { int64_t at_ns, duration_ns; double percent; uint32_t fixture, cell, param, zero; };
struct link_wire_slot { int64_t at_ns, universe, slot; double percent; };
struct link_wire_time { int64_t time_ns; };                             /* WAIT, FADES */
struct link_wire_subject { uint32_t kind, index; };
struct link_wire_finding { uint32_t severity, other_count, length, zero; struct link_wire_subject subject; };  /* others, text */
struct link_wire_done { uint64_t more; uint32_t more_severity, zero; };
struct link_wire_error { uint32_t length; uint8_t usage, limit, zero[2]; };                 /* then the text */
struct link_wire_param {
    double least, most;
    uint32_t type, zero;
    char name[33], unit[17], help[161], default_text[161], choices[161], pad[3];
};
struct link_wire_about {
    uint32_t kind, severity, param_count, zero;
    char name[65], about[257], pad[6];
    struct link_wire_param params[32];
};

/* Engine to host: one fixed message. */
enum link_reply_kind { LINK_GO, LINK_RESUME };
struct link_reply { uint32_t magic, kind; int64_t time_ns; uint32_t answer, zero; char note[256]; };

/* ---- the engine's side: reading what a host says ---- */

/* A checked record. Texts are valid UTF-8 without control characters, NUL-terminated, and live until the next link_next(). */
struct link_record {
    enum link_op op;
    int64_t time_ns;                 /* WAIT: until; FADES: now; SET, FADE, SLOT, CLEAR: at */
    int64_t duration_ns;             /* FADE */
    int64_t universe, slot;          /* SLOT */
    double percent;                  /* SET, FADE, SLOT */
    uint32_t fixture, cell;          /* SET, FADE, CLEAR, ASK: fixture or SHOW_UNKNOWN */
    uint32_t plan;                   /* VERDICT: from 1, 0: refused; any number, the caller knows how many there are */
    uint16_t param;                  /* SET, FADE */
    enum severity severity;          /* FINDING; DONE: of what was left out */
    struct subject subject;          /* FINDING */
    const struct subject *others; uint32_t other_count;
    uint64_t more;                   /* DONE: findings left out */
    bool usage, limit;               /* ERROR */
    const struct script_about *about;/* ABOUT */
    const char *text; size_t length; /* FINDING, PRINT, SAY, ASK, ERROR, VERDICT */
};

struct link_reader {
    const struct show *show;         /* what indexes are checked against */
    unsigned allowed;                /* LINK_BIT() of the records that may come now */
    const unsigned char *bytes;      /* the message: borrowed */
    size_t length, at;
    unsigned left;                   /* records not read yet */
    bool last;
    struct subject others[LINK_OTHERS];
    struct script_about about;
    char text[1024];
};

/** Begin a message. @return 0 or RIG_ESCRIPT with what is wrong in why->text */
int link_open(struct link_reader *reader, const void *bytes, size_t length, struct rig_why *why);
/** Read and check the next record. @return 1 with *record filled, 0 at the end, RIG_ESCRIPT with what is wrong */
int link_next(struct link_reader *reader, struct link_record *record, struct rig_why *why);

/** Copy text, at most size - 1 octets, cut at a character border; octets that are no UTF-8 and control characters (C0, C1, DEL,
 * line and paragraph separators, directional marks, embeddings, overrides and isolates) become '?', tabs and line feeds a space.
 * @return octets written without the NUL */
size_t link_text(char *out, size_t size, const char *text, size_t length);
/** The same, with the control characters of `spaces` becoming a space. */
size_t link_text_spaced(char *out, size_t size, const char *text, size_t length, const char *spaces);

/* ---- limits, the same on both sides ---- */

/** CPU seconds a host has: to load, or to run (a sequence: one burst). */
double link_load_limit_s(void);
double link_run_limit_s(enum script_kind kind, uint32_t fixture_count);
/** Octets of Lua memory. */
size_t link_memory_limit(uint32_t fixture_count);

#endif
