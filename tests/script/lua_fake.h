/* A stand-in for the process side of a script host: runs host_lua_main() in this process, unjailed, and writes down
 * every call as a line of text. lua_close() runs at the end, so that leaks show. Time is counted by the fake: a wait
 * ends when it should. A program that includes this does not get host_*.c of the library. */
#ifndef TESTS_LUA_FAKE_H
#define TESTS_LUA_FAKE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <lauxlib.h>

#include "script/host.h"

#define FAKE_LOG (4u << 20)
#define FAKE_MEMORY (8u << 20)

/* What a test gives, and what the script did. */
static struct {
    struct host host;
    struct script script;
    struct host_lib libs[8];
    struct script_set sets[8];
    const char *answers[8];          /* of crew.ask in turn: "yes", "no note text", "skip"; NULL: skip */
    double answer_takes_s;           /* how long each answer takes */
    size_t asked;
    int64_t fades_end_ns;
    unsigned long instructions;      /* the limit: this many VM instructions, then killed; 0: none */
    unsigned long checks;            /* likewise for calls of host_check */
    bool wrong_coroutine;            /* a hook fired on a coroutine that is not host.running */
    jmp_buf end;
    struct script_about about;
    bool done, failed, usage, about_sent;
    char error[2048];
    char *log; size_t used;
} fake;

static void fake_log(const char *format, ...) __attribute__((format(printf, 1, 2)));
static void fake_log(const char *format, ...)
{
    va_list args;
    if (fake.used > FAKE_LOG - 4096)
        return;
    va_start(args, format);
    fake.used += (size_t)vsnprintf(fake.log + fake.used, 4096, format, args);
    va_end(args);
}

/* ---- the process side ---- */

void *host_alloc(void *ud, void *ptr, size_t osize, size_t nsize)
{
    struct host *host = ud;
    size_t old = ptr ? osize : 0;
    if (nsize == 0) {
        free(ptr);
        host->memory_used -= old;
        return NULL;
    }
    if (nsize > old && nsize - old > host->memory_limit - host->memory_used)
        return NULL;
    void *block = realloc(ptr, nsize);
    if (block)
        host->memory_used += nsize - old;
    return block;
}

void host_pass_limit(struct host *host, enum host_limit limit)
{
    if (!host->killed) {
        host->limit = limit;
        host->killed = 1;
    }
}

const char *host_limit_text(struct host *host)
{
    return host->limit == HOST_LIMIT_MEMORY ? "limit of memory" : "limit of time";
}

/* As the real one: after the limit a count-1 hook on whatever runs. Here the limit is a number of instructions, so that
 * it comes at the same place every time. */
static void fake_hook(lua_State *L, lua_Debug *debug)
{
    (void)debug;
    if (fake.host.running != L)
        fake.wrong_coroutine = true;
    host_pass_limit(&fake.host, HOST_LIMIT_TIME);
    lua_sethook(L, fake_hook, LUA_MASKCOUNT, 1);
    luaL_error(L, "%s", host_limit_text(&fake.host));
}

void host_check(lua_State *L, struct host *host)
{
    if (fake.checks && --fake.checks == 0)
        host_pass_limit(host, HOST_LIMIT_TIME);
    if (!host->killed)
        return;
    if (host->running)
        lua_sethook(host->running, fake_hook, LUA_MASKCOUNT, 1);
    luaL_error(L, "%s", host_limit_text(host));
}

void host_send_about(struct host *host, const struct script_about *about)
{
    fake.about = *about;
    fake.about_sent = true;
    if (host->describe_only) {
        lua_close(host->running);
        host_done(host);
    }
    if (fake.instructions)
        lua_sethook(host->running, fake_hook, LUA_MASKCOUNT, (int)fake.instructions);
}

static void log_subject(struct subject s)
{
    const struct show *show = fake.host.show;
    char text[200];
    show_describe(show, s.kind, s.index, text, sizeof text);
    fake_log("%s", text);
}

void host_send_finding(struct host *host, enum severity severity, struct subject subject, const struct subject *others,
                       uint32_t other_count, const char *text, size_t length)
{
    (void)host;
    fake_log("%s ", severity == SEVERITY_FAIL ? "fail" : severity == SEVERITY_WARN ? "warn" : "note");
    log_subject(subject);
    for (uint32_t i = 0; i < other_count; i++) {
        fake_log(i ? ", " : " [");
        log_subject(others[i]);
    }
    fake_log("%s: %.*s\n", other_count ? "]" : "", (int)length, text);
}

static void log_command(const char *word, int64_t at_ns, uint32_t fixture, uint32_t cell)
{
    fake_log("%s @%.9f %lld", word, (double)at_ns / 1e9, (long long)fake.host.show->fixtures[fixture].id);
    if (cell != ENGINE_ALL_CELLS)
        fake_log("/%u", cell + 1);
}

void host_queue_set(struct host *host, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent)
{
    log_command("set", at_ns, fixture, cell);
    fake_log(" %s %g\n", host->show->params[param], percent);
}

void host_queue_fade(struct host *host, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent,
                     int64_t duration_ns)
{
    log_command("fade", at_ns, fixture, cell);
    fake_log(" %s %g in %g\n", host->show->params[param], percent, (double)duration_ns / 1e9);
    if (at_ns + duration_ns > fake.fades_end_ns)
        fake.fades_end_ns = at_ns + duration_ns;
}

void host_queue_slot(struct host *host, int64_t at_ns, int64_t universe, int64_t slot, double percent)
{
    (void)host;
    fake_log("slot @%.9f %lld/%lld %g\n", (double)at_ns / 1e9, (long long)universe, (long long)slot, percent);
}

void host_queue_clear(struct host *host, int64_t at_ns, uint32_t fixture, uint32_t cell)
{
    (void)host;
    log_command("clear", at_ns, fixture, cell);
    fake_log("\n");
}

void host_queue_say(struct host *host, const char *text, size_t length)
{
    (void)host;
    fake_log("say %.*s\n", (int)length, text);
}

void host_queue_print(struct host *host, const char *text, size_t length)
{
    (void)host;
    fake_log("%.*s\n", (int)length, text);
}

void host_wait(struct host *host, int64_t until_ns, struct host_resume *resume)
{
    (void)host;
    fake_log("wait %.9f\n", (double)until_ns / 1e9);
    memset(resume, 0, sizeof *resume);
    resume->now_ns = until_ns;
}

void host_ask(struct host *host, uint32_t fixture, const char *question, size_t length, struct host_resume *resume)
{
    const char *answer = fake.asked < 8 ? fake.answers[fake.asked] : NULL;
    static int64_t now_ns;
    if (fake.asked == 0)
        now_ns = 0;
    fake.asked++;
    long long id = fixture == SHOW_UNKNOWN ? -1 : (long long)host->show->fixtures[fixture].id;
    fake_log("ask %lld %.*s\n", id, (int)length, question);
    memset(resume, 0, sizeof *resume);
    now_ns += (int64_t)(fake.answer_takes_s * 1e9);
    resume->now_ns = now_ns;
    resume->answer = !answer || answer[0] == 's' ? CREW_SKIP : answer[0] == 'y' ? CREW_YES : CREW_NO;
    if (answer && strchr(answer, ' '))
        snprintf(resume->note, sizeof resume->note, "%s", strchr(answer, ' ') + 1);
}

int64_t host_fades_end(struct host *host, int64_t now_ns)
{
    (void)host;
    return fake.fades_end_ns > now_ns ? fake.fades_end_ns : now_ns;
}

void host_verdict(struct host *host, uint32_t plan, const char *text, size_t length)
{
    (void)host;
    fake_log("verdict %u %.*s\n", plan, (int)length, text);
    fake.done = true;
    longjmp(fake.end, 1);
}

void host_done(struct host *host)
{
    (void)host;
    fake.done = true;
    longjmp(fake.end, 1);
}

void host_error(struct host *host, const char *text, bool usage)
{
    (void)host;
    fake.failed = true;
    fake.usage = usage;
    snprintf(fake.error, sizeof fake.error, "%s", text);
    longjmp(fake.end, 1);
}

/* ---- for tests ---- */

/* Forget everything; what a test sets comes after this. */
static inline void fake_reset(void)
{
    char *log = fake.log ? fake.log : malloc(FAKE_LOG);
    memset(&fake, 0, sizeof fake);
    fake.log = log;
    fake.log[0] = '\0';
}

/* Run a script of these octets as file `file`. */
static inline void fake_run_bytes(const struct show *show, const char *file, const char *bytes, size_t length)
{
    fake.script = (struct script){ .path = (char *)file, .stem = (char *)"script", .bytes = (char *)bytes,
                                   .length = length };
    fake.host.show = show;
    fake.host.script = &fake.script;
    fake.host.libs = fake.libs;
    fake.host.sets = fake.sets;
    fake.host.close_state = true;
    if (!fake.host.memory_limit)
        fake.host.memory_limit = FAKE_MEMORY;
    while (fake.host.lib_count < 8 && fake.libs[fake.host.lib_count].bytes)
        fake.host.lib_count++;
    while (fake.host.set_count < 8 && fake.sets[fake.host.set_count].name)
        fake.host.set_count++;
    if (!setjmp(fake.end))
        host_lua_main(&fake.host);
    if (fake.host.memory_used != 0)
        fail_msg("%zu octets of Lua memory are left", fake.host.memory_used);
    if (fake.wrong_coroutine)
        fail_msg("the limit came while host.running was another coroutine");
}

static inline void fake_run(const struct show *show, const char *text)
{
    fake_run_bytes(show, "rules/test.lua", text, strlen(text));
}

/* Run the body of a rule. It starts on line 1. */
static inline void fake_rule(const struct show *show, const char *body)
{
    size_t size = strlen(body) + 200;
    char *text = malloc(size);
    snprintf(text, size, "return { kind = 'rule', name = 'test', run = function(p) %s\nend }", body);
    fake_run(show, text);
    free(text);
}

static inline void fake_sequence(const struct show *show, const char *body)
{
    size_t size = strlen(body) + 200;
    char *text = malloc(size);
    snprintf(text, size, "return { kind = 'sequence', name = 'test', run = function(p) %s\nend }", body);
    fake_run(show, text);
    free(text);
}

static inline void fake_swap(const struct show *show, const char *body)
{
    size_t size = strlen(body) + 200;
    char *text = malloc(size);
    snprintf(text, size, "return { kind = 'swap', name = 'test', run = function(plans, p) %s\nend }", body);
    fake_run(show, text);
    free(text);
}

static inline void fake_free(void)
{
    free(fake.log);
    fake.log = NULL;
}

/* The script ended well and did exactly this. */
#define assert_log(expected) \
    do { \
        if (fake.failed) \
            fail_msg("script error: %s", fake.error); \
        assert_true(fake.done); \
        assert_string_equal(fake.log, expected); \
    } while (0)
/* The script broke with exactly this message. */
#define assert_error(expected) \
    do { \
        assert_false(fake.done); \
        assert_string_equal(fake.error, expected); \
    } while (0)

/* print() in a rule gives this. */
#define assert_prints(show, body, expected) \
    do { \
        fake_reset(); \
        fake_rule(show, body); \
        assert_log(expected); \
    } while (0)
#define assert_breaks(show, body, expected) \
    do { \
        fake_reset(); \
        fake_rule(show, body); \
        assert_error(expected); \
    } while (0)

#endif
