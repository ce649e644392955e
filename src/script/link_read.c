#include "link.h"

#include <math.h>
#include <string.h>

#define TERMINAL(name, terminal) | ((unsigned)(terminal) << LINK_##name)
static const unsigned terminal_ops = 0 LINK_OPS(TERMINAL);
#undef TERMINAL

static const char *op_name(unsigned op)
{
    static const char *const names[] = {
#define NAME(name, terminal) #name,
        LINK_OPS(NAME)
#undef NAME
    };
    return op < LINK_OP_COUNT ? names[op] : "?";
}

int link_open(struct link_reader *reader, const void *bytes, size_t length, struct rig_why *why)
{
    struct link_head head;
    if (length < sizeof head || length > LINK_BYTES)
        return rig_fail(why, RIG_ESCRIPT, "a message of %zu octets, expected %zu to %u", length, sizeof head, LINK_BYTES);
    memcpy(&head, bytes, sizeof head);
    if (head.magic != LINK_MAGIC || head.flags > LINK_LAST || head.records == 0)
        return rig_fail(why, RIG_ESCRIPT, "a message that does not begin as one");
    reader->bytes = bytes;
    reader->length = length;
    reader->at = sizeof head;
    reader->left = head.records;
    reader->last = head.flags & LINK_LAST;
    return 0;
}

/* What stands in a record behind its head. */
struct body { const unsigned char *bytes; size_t length; };

/* Take a fixed struct from the front of a body. */
static bool take(struct body *body, void *out, size_t size)
{
    if (body->length < size)
        return false;
    memcpy(out, body->bytes, size);
    body->bytes += size;
    body->length -= size;
    return true;
}

/* Take a text that ends the record: at most `limit` octets, then at most 7 octets that round the record up. */
static bool take_text(struct link_reader *reader, struct link_record *record, struct body *body, size_t length, size_t limit)
{
    if (length > limit || length > body->length || body->length - length > 7)
        return false;
    record->length = link_text(reader->text, sizeof reader->text, (const char *)body->bytes, length);
    record->text = reader->text;
    return true;
}

static bool time_good(int64_t time_ns)
{
    return time_ns >= 0 && time_ns <= LINK_TIME_NS;
}

static bool percent_good(double percent)
{
    return percent >= 0.0 && percent <= 100.0;        /* NaN is not */
}

static uint32_t subject_count(const struct show *show, uint32_t kind)
{
    switch (kind) {
    case SUBJECT_FIXTURE:
        return show->fixture_count;
    case SUBJECT_SHOW:
        return 1;
    case SUBJECT_SITE:
        return show->site_count;
    case SUBJECT_TRANSMITTER:
        return show->transmitter_count;
    case SUBJECT_TYPE:
        return show->type_count;
    case SUBJECT_UNIVERSE:
        return show->universe_count;
    default:
        return 0;
    }
}

static bool read_subject(const struct show *show, const struct link_wire_subject *wire, struct subject *out)
{
    if (wire->index >= subject_count(show, wire->kind))
        return false;
    *out = (struct subject){ (enum subject_kind)wire->kind, wire->index };
    return true;
}

static bool read_finding(struct link_reader *reader, struct link_record *record, struct body *body)
{
    struct link_wire_finding wire;
    struct link_wire_subject other;
    if (!take(body, &wire, sizeof wire) || wire.severity > SEVERITY_NOTE || wire.other_count > LINK_OTHERS)
        return false;
    if (!read_subject(reader->show, &wire.subject, &record->subject))
        return false;
    for (uint32_t i = 0; i < wire.other_count; i++)
        if (!take(body, &other, sizeof other) || !read_subject(reader->show, &other, &reader->others[i]))
            return false;
    record->severity = (enum severity)wire.severity;
    record->others = reader->others;
    record->other_count = wire.other_count;
    return take_text(reader, record, body, wire.length, LINK_FINDING_TEXT);
}

static bool read_command(struct link_reader *reader, struct link_record *record, struct body *body)
{
    struct link_wire_command wire;
    if (!take(body, &wire, sizeof wire) || body->length)
        return false;
    if (!time_good(wire.at_ns) || !time_good(wire.duration_ns) || wire.fixture >= reader->show->fixture_count)
        return false;
    if (record->op != LINK_CLEAR && (!percent_good(wire.percent) || wire.param >= reader->show->param_count))
        return false;
    record->time_ns = wire.at_ns;
    record->duration_ns = wire.duration_ns;
    record->percent = wire.percent;
    record->fixture = wire.fixture;
    record->cell = wire.cell;
    record->param = record->op == LINK_CLEAR ? 0 : (uint16_t)wire.param;
    return true;
}

static bool read_slot(struct link_record *record, struct body *body)
{
    struct link_wire_slot wire;
    if (!take(body, &wire, sizeof wire) || body->length || !time_good(wire.at_ns) || !percent_good(wire.percent))
        return false;
    record->time_ns = wire.at_ns;
    record->universe = wire.universe;
    record->slot = wire.slot;
    record->percent = wire.percent;
    return true;
}

static bool read_time(struct link_record *record, struct body *body)
{
    struct link_wire_time wire;
    if (!take(body, &wire, sizeof wire) || body->length || !time_good(wire.time_ns))
        return false;
    record->time_ns = wire.time_ns;
    return true;
}

static bool read_line(struct link_reader *reader, struct link_record *record, struct body *body)
{
    struct link_wire_text wire;
    if (!take(body, &wire, sizeof wire))
        return false;
    if (record->op == LINK_ASK && wire.value >= reader->show->fixture_count && wire.value != SHOW_UNKNOWN)
        return false;
    record->fixture = record->op == LINK_VERDICT ? SHOW_UNKNOWN : wire.value;
    record->plan = record->op == LINK_VERDICT ? wire.value : 0;
    return take_text(reader, record, body, wire.length, record->op == LINK_ASK ? LINK_QUESTION_TEXT : LINK_LINE_TEXT);
}

static bool read_done(struct link_record *record, struct body *body)
{
    struct link_wire_done wire;
    if (!take(body, &wire, sizeof wire) || body->length || wire.more_severity > SEVERITY_NOTE)
        return false;
    record->more = wire.more;
    record->severity = (enum severity)wire.more_severity;
    return true;
}

static bool read_error(struct link_reader *reader, struct link_record *record, struct body *body)
{
    struct link_wire_error wire;
    if (!take(body, &wire, sizeof wire))
        return false;
    record->usage = wire.usage != 0;
    record->limit = wire.limit != 0;
    return take_text(reader, record, body, wire.length, LINK_ERROR_TEXT);
}

/* A text of an about: terminated within its field, UTF-8, nothing in it that link_text() would change. */
static bool plain(const char *text, size_t size)
{
    char clean[512];
    const char *end = memchr(text, '\0', size);
    if (!end)
        return false;
    size_t length = (size_t)(end - text);
    return link_text(clean, sizeof clean, text, length) == length && memcmp(clean, text, length) == 0;
}

static bool read_param(const struct link_wire_param *wire, struct script_param *out)
{
    if (!plain(wire->name, sizeof wire->name) || !plain(wire->unit, sizeof wire->unit) || !plain(wire->help, sizeof wire->help)
        || !plain(wire->default_text, sizeof wire->default_text) || !plain(wire->choices, sizeof wire->choices))
        return false;
    if (!wire->name[0] || wire->type > PARAM_CHOICE)
        return false;
    memcpy(out->name, wire->name, sizeof out->name);
    memcpy(out->unit, wire->unit, sizeof out->unit);
    memcpy(out->help, wire->help, sizeof out->help);
    memcpy(out->default_text, wire->default_text, sizeof out->default_text);
    memcpy(out->choices, wire->choices, sizeof out->choices);
    out->type = wire->type;
    out->least = wire->least;
    out->most = wire->most;
    return true;
}

static bool read_about(struct link_reader *reader, struct link_record *record, struct body *body)
{
    struct link_wire_about wire;
    struct script_about *about = &reader->about;
    if (!take(body, &wire, sizeof wire) || body->length)
        return false;
    if (wire.kind > SCRIPT_LIB || wire.severity > SEVERITY_NOTE || wire.param_count > 32)
        return false;
    if (!plain(wire.name, sizeof wire.name) || !wire.name[0] || !plain(wire.about, sizeof wire.about))
        return false;
    memset(about, 0, sizeof *about);
    about->kind = (enum script_kind)wire.kind;
    about->severity = (enum severity)wire.severity;
    memcpy(about->name, wire.name, sizeof about->name);
    memcpy(about->about, wire.about, sizeof about->about);
    for (uint32_t i = 0; i < wire.param_count; i++)
        if (!read_param(&wire.params[i], &about->params[i]))
            return false;
    about->param_count = wire.param_count;
    record->about = about;
    return true;
}

static bool read_body(struct link_reader *reader, struct link_record *record, struct body *body)
{
    switch (record->op) {
    case LINK_FINDING:
        return read_finding(reader, record, body);
    case LINK_SET:
    case LINK_FADE:
    case LINK_CLEAR:
        return read_command(reader, record, body);
    case LINK_SLOT:
        return read_slot(record, body);
    case LINK_WAIT:
    case LINK_FADES:
        return read_time(record, body);
    case LINK_PRINT:
    case LINK_SAY:
    case LINK_ASK:
    case LINK_VERDICT:
        return read_line(reader, record, body);
    case LINK_ABOUT:
        return read_about(reader, record, body);
    case LINK_DONE:
        return read_done(record, body);
    case LINK_ERROR:
        return read_error(reader, record, body);
    case LINK_OP_COUNT:
        break;
    }
    return false;
}

int link_next(struct link_reader *reader, struct link_record *record, struct rig_why *why)
{
    struct link_record_head head;
    if (reader->left == 0)
        return 0;
    size_t rest = reader->length - reader->at;
    if (rest < sizeof head)
        return rig_fail(why, RIG_ESCRIPT, "a message that ends within a record");
    memcpy(&head, reader->bytes + reader->at, sizeof head);
    if (head.size < sizeof head || head.size > rest || head.size % 8)
        return rig_fail(why, RIG_ESCRIPT, "a record of %u octets in %zu", head.size, rest);
    if (head.op >= LINK_OP_COUNT || !(reader->allowed & LINK_BIT(head.op)))
        return rig_fail(why, RIG_ESCRIPT, "a record of kind %u (%s) that may not come now", head.op, op_name(head.op));
    bool terminal = terminal_ops & LINK_BIT(head.op);
    if (terminal != (reader->last && reader->left == 1))
        return rig_fail(why, RIG_ESCRIPT, "a batch that does not end as one (%s)", op_name(head.op));
    struct body body = { reader->bytes + reader->at + sizeof head, head.size - sizeof head };
    memset(record, 0, sizeof *record);
    record->op = (enum link_op)head.op;
    if (!read_body(reader, record, &body))
        return rig_fail(why, RIG_ESCRIPT, "a %s that is not well formed", op_name(head.op));
    reader->at += head.size;
    if (--reader->left == 0 && reader->at != reader->length)
        return rig_fail(why, RIG_ESCRIPT, "%zu octets behind the last record", reader->length - reader->at);
    return 1;
}
