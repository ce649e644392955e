#include <errno.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "host_internal.h"

/* One host a process, so one link. */
static struct host_link the_link;

void host__link_start(struct host *host, int fd)
{
    host->link = &the_link;
    the_link.fd = fd;
    the_link.used = sizeof(struct link_head);
    the_link.more_severity = SEVERITY_NOTE;
}

/* Send what is queued. When the engine is gone there is nobody to tell. */
static void flush(struct host_link *link, bool last)
{
    struct link_head head = { LINK_MAGIC, last ? LINK_LAST : 0, link->records };
    memcpy(link->buffer, &head, sizeof head);
    ssize_t sent;
    do
        sent = send(link->fd, link->buffer, link->used, MSG_NOSIGNAL);
    while (sent < 0 && errno == EINTR);
    if (sent != (ssize_t)link->used)
        _exit(0);
    link->used = sizeof head;
    link->records = 0;
}

static size_t rounded(size_t size)
{
    return (size + 7) & ~(size_t)7;
}

/* Append a record of a fixed part, other subjects and a text. */
static void put(struct host_link *link, enum link_op op, const void *fixed, size_t fixed_size,
                const struct link_wire_subject *others, uint32_t other_count, const char *text, size_t length)
{
    size_t others_size = other_count * sizeof *others;
    size_t size = rounded(sizeof(struct link_record_head) + fixed_size + others_size + length);
    if (link->used + size > LINK_BYTES || link->records == UINT16_MAX)
        flush(link, false);
    struct link_record_head head = { (uint16_t)op, 0, (uint32_t)size };
    unsigned char *at = link->buffer + link->used;
    memset(at + size - 8, 0, 8);
    memcpy(at, &head, sizeof head);
    memcpy(at + sizeof head, fixed, fixed_size);
    if (others_size)
        memcpy(at + sizeof head + fixed_size, others, others_size);
    if (length)
        memcpy(at + sizeof head + fixed_size + others_size, text, length);
    link->used += size;
    link->records++;
}

static void put_fixed(struct host_link *link, enum link_op op, const void *fixed, size_t size)
{
    put(link, op, fixed, size, NULL, 0, NULL, 0);
}

/* Sleep until the engine answers. */
static void receive(struct host_link *link, enum link_reply_kind kind, struct link_reply *reply)
{
    ssize_t got;
    do
        got = recv(link->fd, reply, sizeof *reply, 0);
    while (got < 0 && errno == EINTR);
    if (got != (ssize_t)sizeof *reply || reply->magic != LINK_MAGIC || reply->kind != kind)
        _exit(0);
    reply->note[sizeof reply->note - 1] = '\0';
}

static void put_text(struct host_link *link, enum link_op op, uint32_t value, const char *text, size_t length)
{
    char line[LINK_QUESTION_TEXT + 1];
    length = link_text(line, (op == LINK_ASK ? LINK_QUESTION_TEXT : LINK_LINE_TEXT) + 1, text, length);
    struct link_wire_text wire = { (uint32_t)length, value };
    put(link, op, &wire, sizeof wire, NULL, 0, line, length);
}

static void copy_param(struct link_wire_param *wire, const struct script_param *param)
{
    wire->least = param->least;
    wire->most = param->most;
    wire->type = param->type;
    memcpy(wire->name, param->name, sizeof wire->name);
    memcpy(wire->unit, param->unit, sizeof wire->unit);
    memcpy(wire->help, param->help, sizeof wire->help);
    memcpy(wire->default_text, param->default_text, sizeof wire->default_text);
    memcpy(wire->choices, param->choices, sizeof wire->choices);
}

void host_send_about(struct host *host, const struct script_about *about)
{
    static struct link_wire_about wire;
    struct link_reply reply;
    wire.kind = about->kind;
    wire.severity = about->severity;
    wire.param_count = about->param_count;
    memcpy(wire.name, about->name, sizeof wire.name);
    memcpy(wire.about, about->about, sizeof wire.about);
    for (uint32_t i = 0; i < about->param_count && i < 32; i++)
        copy_param(&wire.params[i], &about->params[i]);
    put_fixed(host->link, LINK_ABOUT, &wire, sizeof wire);
    flush(host->link, true);
    if (host->describe_only)
        _exit(0);
    receive(host->link, LINK_GO, &reply);
    host->link->burst_start_ns = reply.time_ns;
    host__burst(host, link_run_limit_s(about->kind, host->show ? host->show->fixture_count : 0));
}

void host_send_finding(struct host *host, enum severity severity, struct subject subject,
                       const struct subject *others, uint32_t other_count, const char *text, size_t length)
{
    static struct link_wire_subject wire_others[LINK_OTHERS];
    struct host_link *link = host->link;
    char line[LINK_FINDING_TEXT + 1];
    if (link->findings == SCRIPT_FINDINGS) {
        link->more++;
        if (severity < link->more_severity)
            link->more_severity = severity;
        return;
    }
    link->findings++;
    if (other_count > LINK_OTHERS)
        other_count = LINK_OTHERS;
    for (uint32_t i = 0; i < other_count; i++)
        wire_others[i] = (struct link_wire_subject){ others[i].kind, others[i].index };
    length = link_text(line, sizeof line, text, length);
    struct link_wire_finding wire = { severity, other_count, (uint32_t)length, 0, { subject.kind, subject.index } };
    put(link, LINK_FINDING, &wire, sizeof wire, wire_others, other_count, line, length);
}

static void put_command(struct host *host, enum link_op op, const struct link_wire_command *command)
{
    put_fixed(host->link, op, command, sizeof *command);
}

void host_queue_set(struct host *host, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent)
{
    struct link_wire_command command = { at_ns, 0, percent, fixture, cell, param, 0 };
    put_command(host, LINK_SET, &command);
}

void host_queue_fade(struct host *host, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent,
                     int64_t duration_ns)
{
    struct link_wire_command command = { at_ns, duration_ns, percent, fixture, cell, param, 0 };
    put_command(host, LINK_FADE, &command);
}

void host_queue_clear(struct host *host, int64_t at_ns, uint32_t fixture, uint32_t cell)
{
    struct link_wire_command command = { at_ns, 0, 0.0, fixture, cell, 0, 0 };
    put_command(host, LINK_CLEAR, &command);
}

void host_queue_slot(struct host *host, int64_t at_ns, int64_t universe, int64_t slot, double percent)
{
    struct link_wire_slot wire = { at_ns, universe, slot, percent };
    put_fixed(host->link, LINK_SLOT, &wire, sizeof wire);
}

/* A line, or after `most` lines one that says so, or nothing. */
static void put_line(struct host_link *link, enum link_op op, uint32_t *lines, uint32_t most, const char *last,
                     const char *text, size_t length)
{
    if (*lines > most)
        return;
    if ((*lines)++ < most)
        put_text(link, op, 0, text, length);
    else
        put_text(link, op, 0, last, strlen(last));
}

void host_queue_say(struct host *host, const char *text, size_t length)
{
    put_line(host->link, LINK_SAY, &host->link->says, LINK_SAYS, "(more lines of crew.say were left out)", text, length);
}

void host_queue_print(struct host *host, const char *text, size_t length)
{
    put_line(host->link, LINK_PRINT, &host->link->prints, LINK_PRINTS, "(more lines of print were left out)", text, length);
}

/* It is now_ns of the run. Only when time has moved on does a new burst begin: a loop of waits that last nothing must not
 * escape the limit of a burst. */
static void moved(struct host *host, int64_t now_ns)
{
    if (now_ns - host->link->burst_start_ns < LINK_BURST_NS)
        return;
    host->link->burst_start_ns = now_ns;
    host->link->says = 0;
    host__burst(host, link_run_limit_s(SCRIPT_SEQUENCE, 0));
}

static void resume(struct host *host, struct host_resume *out)
{
    struct link_reply reply;
    flush(host->link, true);
    receive(host->link, LINK_RESUME, &reply);
    moved(host, reply.time_ns);
    if (!out)
        return;
    out->now_ns = reply.time_ns;
    out->answer = (enum crew_answer)reply.answer;
    memcpy(out->note, reply.note, sizeof out->note);
}

void host_wait(struct host *host, int64_t until_ns, struct host_resume *out)
{
    struct link_wire_time wire = { until_ns };
    put_fixed(host->link, LINK_WAIT, &wire, sizeof wire);
    resume(host, out);
}

void host_ask(struct host *host, uint32_t fixture, const char *question, size_t length, struct host_resume *out)
{
    put_text(host->link, LINK_ASK, fixture, question, length);
    resume(host, out);
}

int64_t host_fades_end(struct host *host, int64_t now_ns)
{
    struct link_wire_time wire = { now_ns };
    struct link_reply reply;
    put_fixed(host->link, LINK_FADES, &wire, sizeof wire);
    flush(host->link, true);
    receive(host->link, LINK_RESUME, &reply);
    return reply.time_ns;
}

void host_verdict(struct host *host, uint32_t plan, const char *text, size_t length)
{
    put_text(host->link, LINK_VERDICT, plan, text, length);
    flush(host->link, true);
    _exit(0);
}

void host_done(struct host *host)
{
    struct link_wire_done wire = { host->link->more, host->link->more_severity, 0 };
    put_fixed(host->link, LINK_DONE, &wire, sizeof wire);
    flush(host->link, true);
    _exit(0);
}

void host_error(struct host *host, const char *text, bool usage)
{
    char line[LINK_ERROR_TEXT + 1];
    size_t length = link_text(line, sizeof line, text, strlen(text));
    struct link_wire_error wire = { (uint32_t)length, usage, host->killed != 0, { 0, 0 } };
    put(host->link, LINK_ERROR, &wire, sizeof wire, NULL, 0, line, length);
    flush(host->link, true);
    _exit(0);
}
