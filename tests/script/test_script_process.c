/* One host process: how its time is counted, what is left when the engine ends, and what happens when there is none to be had. */
#include "fake_host.h"
#include "watch.h"

#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static struct show *show;

/* More than the socket holds: the host blocks until the engine reads. */
static void act_writes(struct host *host)
{
    static char text[LINK_FINDING_TEXT];
    memset(text, 'x', sizeof text);
    fake_rule(host);
    for (int i = 0; i < SCRIPT_FINDINGS; i++)
        host_send_finding(host, SEVERITY_NOTE, (struct subject){ SUBJECT_SHOW, 0 }, NULL, 0, text, sizeof text);
    host_done(host);
}

static void act_spins(struct host *host)
{
    fake_rule(host);
    for (volatile unsigned i = 0;; i++)
        ;
}

static void act_sleeps(struct host *host)
{
    struct host_resume resume;
    fake_about(host, SCRIPT_SEQUENCE, "sleeps");
    host_wait(host, 0, &resume);
    host_done(host);
}

const struct fake_act fake_acts[] = { { "writes", act_writes }, { "spins", act_spins }, { "sleeps", act_sleeps }, { NULL, NULL } };

static void start(struct script_process *process, struct script *script, const char *act)
{
    struct script_about about;
    struct rig_why why;
    *script = fake_script(act);
    struct host_start host_start = { .show = show, .script = script, .cpu_backstop_s = 60 };
    if (script__process_start(process, &host_start, &why) || script__process_load(process, &about, NULL, NULL, &why))
        fail_msg("%s", why.text);
    script__process_burst(process, link_run_limit_s(about.kind, show->fixture_count));
    script__process_reply(process, LINK_GO, 0, CREW_SKIP, NULL);
}

static void wait_readable(const struct script_process *process)
{
    struct pollfd pollfd = { process->fd, POLLIN, 0 };
    assert_int_equal(poll(&pollfd, 1, -1), 1);
}

/* Use up CPU time of this process, as an engine does that is behind. */
static void be_busy(double seconds)
{
    clock_t end = clock() + (clock_t)(seconds * CLOCKS_PER_SEC);
    while (clock() < end)
        ;
}

static void a_host_that_is_blocked_by_the_engine_uses_no_time(void **state)
{
    struct script_process process;
    struct script script;
    struct link_record record;
    int findings = 0;
    (void)state;
    start(&process, &script, "writes");
    for (;;) {
        wait_readable(&process);
        be_busy(findings % 300 == 0 ? 0.1 : 0);
        enum script_event event = script__process_next(&process, LINK_ALLOW_RULE, &record);
        assert_int_equal(event, SCRIPT_RECORD);
        assert_true(process.wall_ns == 0);
        if (record.op == LINK_DONE)
            break;
        findings++;
        while (process.in_message) {
            assert_int_equal(script__process_next(&process, LINK_ALLOW_RULE, &record), SCRIPT_RECORD);
            findings += record.op == LINK_FINDING;
        }
        if (record.op == LINK_DONE)
            break;
    }
    assert_int_equal(findings, SCRIPT_FINDINGS);
    script__process_fini(&process);
}

/* An engine that was stopped for long: one look counts for at most a tenth of a second. */
static void one_look_counts_for_little(void **state)
{
    struct script_process process;
    struct script script;
    struct link_record record;
    (void)state;
    start(&process, &script, "spins");
    assert_int_equal(script__process_next(&process, LINK_ALLOW_RULE, &record), SCRIPT_IDLE);
    process.looked_ns -= 3600000000000;
    assert_int_equal(script__process_next(&process, LINK_ALLOW_RULE, &record), SCRIPT_IDLE);
    assert_true(process.wall_ns <= 100000000);
    process.wall_ns = 50002000000 + 1;                /* 10 times 5 s + 50 us for each of 4 fixtures */
    assert_int_equal(script__process_next(&process, LINK_ALLOW_RULE, &record), SCRIPT_ENDED);
    assert_string_equal(process.end.text, "passed the limit of 50 s wall time and was killed");
    script__process_fini(&process);
}

/* The engine is killed: its hosts go with it, the one that computes and the one that waits. */
static void no_host_outlives_the_engine(void **state)
{
    (void)state;
    assert_int_equal(prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0), 0);
    for (int i = 0; i < 2; i++) {
        int pipes[2], status;
        pid_t host = 0;
        assert_int_equal(pipe(pipes), 0);
        pid_t engine = fork();
        if (engine == 0) {
            struct script_process process;
            struct script script;
            start(&process, &script, i ? "sleeps" : "spins");
            if (write(pipes[1], &process.pid, sizeof process.pid) == sizeof process.pid)
                for (;;)
                    pause();
            _exit(1);
        }
        assert_int_equal(read(pipes[0], &host, sizeof host), sizeof host);
        assert_int_equal(kill(engine, SIGKILL), 0);
        assert_int_equal(waitpid(engine, &status, 0), engine);
        assert_int_equal(waitpid(host, &status, 0), host);
        assert_true((WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL) || (i && WIFEXITED(status)));
        close(pipes[0]);
        close(pipes[1]);
    }
    prctl(PR_SET_CHILD_SUBREAPER, 0, 0, 0, 0);
}

static void without_descriptors_a_check_ends_cleanly(void **state)
{
    struct script scripts[8];
    struct check_options options = { .scripts = scripts, .script_count = 8, .jobs = 8 };
    struct findings *findings = findings_new();
    struct rlimit before, few;
    struct rig_why why;
    int descriptors = open_descriptors();
    (void)state;
    for (int i = 0; i < 8; i++)
        scripts[i] = fake_script("spins");
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
    few = before;
    few.rlim_cur = (rlim_t)descriptors + 4;           /* four more, for a host or two */
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &few), 0);
    int err = script_check(show, &options, findings, &why);
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
    assert_int_equal(err, RIG_EIO);
    assert_string_equal(why.text, "no socket for a script host: Too many open files");
    assert_int_equal(open_descriptors(), descriptors);
    assert_int_equal(waitpid(-1, NULL, WNOHANG), -1);
    findings_free(findings);
}

static void ignored_children_are_still_reaped(void **state)
{
    const char *act = "writes";
    size_t count;
    (void)state;
    signal(SIGCHLD, SIG_IGN);
    struct findings *findings = fake_check(show, &act, 1, 1);
    findings_failures(findings, &count);
    assert_int_equal(count, 0);
    findings_free(findings);
    signal(SIGCHLD, SIG_DFL);
}

static int set_up(void **state)
{
    (void)state;
    show = fake_show(4);
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
        cmocka_unit_test(a_host_that_is_blocked_by_the_engine_uses_no_time), cmocka_unit_test(one_look_counts_for_little),
        cmocka_unit_test(no_host_outlives_the_engine), cmocka_unit_test(without_descriptors_a_check_ends_cleanly),
        cmocka_unit_test(ignored_children_are_still_reaped),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
