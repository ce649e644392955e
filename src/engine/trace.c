#include "trace.h"

#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#define TIME_DIGITS 12               /* of JSON numbers: microseconds of a day */

int trace_init(struct trace *trace, FILE *file, const struct engine *engine, struct rig_why *why)
{
    *trace = (struct trace){ .file = file };
    if (!file)
        return 0;
    trace->before = calloc((size_t)engine->universe_count * SHOW_SLOTS + 1, 1);
    return trace->before ? 0 : rig_fail(why, RIG_ENOMEM, "out of memory for the trace");
}

void trace_fini(struct trace *trace)
{
    free(trace->before);
    *trace = (struct trace){ 0 };
}

static char *put_number(char *to, uint64_t number)
{
    char digits[20];
    int count = 0;
    do
        digits[count++] = (char)('0' + number % 10);
    while (number /= 10);
    while (count)
        *to++ = digits[--count];
    return to;
}

static char *put_text(char *to, const char *text)
{
    size_t length = strlen(text);
    memcpy(to, text, length);
    return to + length;
}

/* Seconds to the microsecond, without the zeros at the end: printf would follow the locale. */
static char *put_time(char *to, double time_ns)
{
    uint64_t microseconds = (uint64_t)(time_ns / 1000 + 0.5), rest = microseconds % 1000000;
    to = put_number(to, microseconds / 1000000);
    if (!rest)
        return to;
    *to++ = '.';
    for (uint64_t unit = 100000; rest; rest %= unit, unit /= 10)
        *to++ = (char)('0' + rest / unit);
    return to;
}

static void write_universe(struct trace *trace, const struct engine_universe *universe, uint8_t *before, double time_ns,
                           uint64_t frame)
{
    char line[160 + SHOW_SLOTS * 12], *at = line;      /* a slot takes at most 10 octets: [512,255], */
    at = put_time(put_text(at, "{\"t\":"), time_ns);
    at = put_number(put_text(at, ",\"frame\":"), frame);
    at = put_text(at, ",\"universe\":");
    if (universe->id < 0)
        *at++ = '-';
    at = put_number(at, universe->id < 0 ? 0 - (uint64_t)universe->id : (uint64_t)universe->id);
    at = put_number(put_text(at, ",\"wire\":"), universe->wire);
    at = put_text(at, ",\"slots\":[");
    char *first = at;
    for (unsigned i = 0; i < SHOW_SLOTS; i++) {
        if (universe->levels[i] == before[i])
            continue;
        if (at > first)
            *at++ = ',';
        *at++ = '[';
        at = put_number(at, i + 1);
        *at++ = ',';
        at = put_number(at, universe->levels[i]);
        *at++ = ']';
        before[i] = universe->levels[i];
    }
    at = put_text(at, "]}\n");
    if (fwrite(line, 1, (size_t)(at - line), trace->file) != (size_t)(at - line))
        trace->failed = true;
}

void trace_frame(struct trace *trace, const struct engine *engine, uint64_t frame)
{
    if (!trace->file)
        return;
    for (uint32_t u = 0; u < engine->universe_count; u++)
        if (engine->universes[u].changed || !trace->begun)
            write_universe(trace, &engine->universes[u], trace->before + (size_t)u * SHOW_SLOTS,
                           engine_frame_time(engine, frame), frame);
    trace->begun = true;
}

void trace_event(struct trace *trace, double time_s, const char *event, json_t *fields)
{
    json_t *line = NULL;
    if (!trace->file)
        goto out;
    line = json_pack("{s:f,s:s}", "t", time_s, "event", event);
    if (!line || !fields || json_object_update(line, fields) != 0 ||
        json_dumpf(line, trace->file, JSON_COMPACT | JSON_REAL_PRECISION(TIME_DIGITS)) != 0 ||
        fputc('\n', trace->file) == EOF)
        trace->failed = true;
out:
    json_decref(line);
    json_decref(fields);
}

json_t *trace_text(const char *text)
{
    return json_stringn(text, utf8_check(text, strlen(text)));
}

int trace_end(struct trace *trace, struct rig_why *why)
{
    if (!trace->file)
        return 0;
    errno = 0;
    if (fflush(trace->file) != 0 || ferror(trace->file) || trace->failed)
        return rig_fail(why, RIG_EIO, "cannot write the trace: %s", errno ? strerror(errno) : "out of memory or space");
    return 0;
}
