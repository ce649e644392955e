/* The limits of a host, kept by the engine's clock for one that does not keep them itself, and the ways a process can die.
 * Figures: design, "Limits". The acts are native code, so nothing in the host helps. */
#include "fake_host.h"
#include "watch.h"

#include <signal.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static struct show *show;

static void spin(struct host *host)
{
    (void)host;
    for (volatile unsigned long i = 0;; i++)
        ;
}

static void spin_in_rule(struct host *host)
{
    fake_rule(host);
    spin(host);
}

/* As the Lua side does: look at the flag. */
static void spin_politely(struct host *host)
{
    while (!host->killed)
        ;
    host_error(host, host_limit_text(host), false);
}

static void spin_politely_in_rule(struct host *host)
{
    fake_rule(host);
    spin_politely(host);
}

static void sleep_on(struct host *host)
{
    char nothing[8];
    for (;;)
        recv(host->link->fd, nothing, sizeof nothing, 0);
}

static void take_memory(struct host *host)
{
    fake_rule(host);
    while (host_alloc(host, NULL, 5, 1 << 20))
        ;
    host_pass_limit(host, HOST_LIMIT_MEMORY);
    host_error(host, host_limit_text(host), false);
}

static void count_memory(struct host *host)
{
    bool fine;
    fake_rule(host);
    char *block = host_alloc(host, NULL, 5, 1000);    /* 5: a type tag of Lua, not a size */
    fine = block && host->memory_used == 1000;
    block = host_alloc(host, block, 1000, 400);
    fine = fine && block && host->memory_used == 400;
    fine = fine && !host_alloc(host, block, 400, host->memory_limit + 1) && host->memory_used == 400;
    fine = fine && !host_alloc(host, NULL, 0, SIZE_MAX);
    block = host_alloc(host, block, 400, host->memory_limit);
    fine = fine && block && host->memory_used == host->memory_limit && !host_alloc(host, NULL, 0, 1);
    fine = fine && !host_alloc(host, block, host->memory_limit, 0) && host->memory_used == 0;
    if (!fine)
        host_error(host, "memory is counted wrongly", false);
    host_done(host);
}

/* Past host_alloc(), straight from the kernel: the backstop, which sanitizers do without. */
static void take_address_space(struct host *host)
{
    fake_rule(host);
    for (int i = 0; i < 1024; i++) {
        char *block = malloc(4 << 20);
        if (!block)
            host_error(host, "no more address space", false);
        memset(block, 1, 4 << 20);
    }
    host_error(host, "took 4 GiB", false);
}

static void crash(struct host *host)
{
    static int *volatile nowhere = (int *)8;
    fake_rule(host);
    *nowhere = 1;
}

static void leave(struct host *host)
{
    fake_rule(host);
    _exit(3);
}

static void leave_loading(struct host *host)
{
    (void)host;
    _exit(0);
}

#if HOST_SANITIZED
static void use_after_free(struct host *host)
{
    fake_rule(host);
    char *volatile block = malloc(16);
    char *volatile again = block;
    free(block);
    host->killed = again[3];
    host_done(host);
}

static void overflow(struct host *host)
{
    fake_rule(host);
    volatile int big = INT32_MAX;
    big = big + 1;
    host_done(host);
}
#endif

const struct fake_act fake_acts[] = {
    { "spin", spin }, { "spin_in_rule", spin_in_rule }, { "spin_politely", spin_politely }, { "spin_politely_in_rule", spin_politely_in_rule },
    { "sleep", sleep_on }, { "take_memory", take_memory }, { "count_memory", count_memory }, { "take_address_space", take_address_space },
    { "crash", crash }, { "leave", leave }, { "leave_loading", leave_loading },
#if HOST_SANITIZED
    { "use_after_free", use_after_free }, { "overflow", overflow },
#endif
    { NULL, NULL },
};

/* Run into a limit of CPU time: not before it, and the engine ends it 0.1 s after it, or when a busy machine lets it look. */
static void assert_cpu_limit(const char *act, const char *expected, double least)
{
    double before = children_cpu_s();
    assert_failure(show, act, expected);
    double used = children_cpu_s() - before;
    if (used < least || used > least + 0.1 + 0.4)
        fail_msg("%s: %.3f s of CPU time, expected about %.3f", act, used, least);
}

static void loading_has_half_a_second(void **state)
{
    (void)state;
    assert_cpu_limit("spin", "passed the limit of 0.5 s CPU time and was killed", 0.5);
    assert_cpu_limit("spin_politely", "passed the limit of 0.5 s CPU time", 0.5);
}

/* 5 s + 50 us a fixture: 4,000 fixtures give 5.2 s; loading took nothing. */
static void a_rule_has_five_seconds_and_a_share_for_each_fixture(void **state)
{
    (void)state;
    assert_cpu_limit("spin_in_rule", "passed the limit of 5.2 s CPU time and was killed", 5.2);
    assert_cpu_limit("spin_politely_in_rule", "passed the limit of 5.2 s CPU time", 5.2);
}

static void a_host_that_sleeps_passes_ten_times_the_limit(void **state)
{
    (void)state;
    assert_failure(show, "sleep", "passed the limit of 5 s wall time and was killed");
}

/* 64 MiB + 1 KiB a fixture: 4,000 fixtures give 67.90625 MiB. */
static void memory_is_capped(void **state)
{
    (void)state;
    assert_failure(show, "take_memory", "passed the limit of 67.91 MiB of memory");
    const char *act = "count_memory";
    size_t count;
    struct findings *findings = fake_check(show, &act, 1, 1);
    findings_failures(findings, &count);
    assert_int_equal(count, 0);
    findings_free(findings);
    assert_int_equal(link_memory_limit(0), 67108864);
    assert_int_equal(link_memory_limit(1), 67109888);
}

static void a_host_cannot_take_the_machines_memory(void **state)
{
    (void)state;
    if (HOST_SANITIZED)
        skip();                      /* sanitizers map terabytes */
    assert_failure(show, "take_address_space", "no more address space");
}

static void every_death_is_a_sentence(void **state)
{
    (void)state;
    if (HOST_SANITIZED)
        assert_failure(show, "crash", "made a sanitizer report: ERROR: AddressSanitizer: SEGV");
    else
        assert_failure(show, "crash", "crashed (signal 11, Segmentation fault)");
    assert_failure(show, "leave", "ended without a word (exit status 3)");
    assert_failure(show, "leave_loading", "ended without a word (exit status 0)");
}

static void a_sanitizer_report_is_a_failure(void **state)
{
    (void)state;
    if (!HOST_SANITIZED)
        skip();
    assert_failure(show, "use_after_free", "made a sanitizer report: ERROR: AddressSanitizer: heap-use-after-free");
    assert_failure(show, "overflow", "made a sanitizer report: runtime error: signed integer overflow");
}

static void no_host_is_left(void **state)
{
    (void)state;
    assert_int_equal(waitpid(-1, NULL, WNOHANG), -1);
}

static int set_up(void **state)
{
    (void)state;
    show = fake_show(4000);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    show_free(show);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(loading_has_half_a_second),
        cmocka_unit_test(a_rule_has_five_seconds_and_a_share_for_each_fixture),
        cmocka_unit_test(a_host_that_sleeps_passes_ten_times_the_limit),
        cmocka_unit_test(memory_is_capped),
        cmocka_unit_test(a_host_cannot_take_the_machines_memory),
        cmocka_unit_test(every_death_is_a_sentence),
        cmocka_unit_test(a_sanitizer_report_is_a_failure),
        cmocka_unit_test(no_host_is_left),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
