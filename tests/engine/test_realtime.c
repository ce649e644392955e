/* Real-time scheduling: had, refused and given up by the guard. Each test is in a process of its own, so that nothing of it stays. */
#include <errno.h>
#include <grp.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#include "engine/realtime.h"

#define NOBODY 65534
enum { SKIPPED = 77 };

/* What a child found wrong, as a line number; 0 when all is well. */
#define EXPECT(condition)                                                                                                         \
    do {                                                                                                                          \
        if (!(condition)) {                                                                                                       \
            fprintf(stderr, "line %d: " #condition "\n", __LINE__);                                                               \
            return 1;                                                                                                             \
        }                                                                                                                         \
    } while (0)

static void in_a_child(int (*body)(void))
{
    int status;
    fflush(NULL);
    pid_t pid = fork();
    if (pid == 0)
        _exit(body());
    assert_true(pid > 0);
    assert_int_equal(waitpid(pid, &status, 0), pid);
    if (WIFEXITED(status) && WEXITSTATUS(status) == SKIPPED)
        skip();
    assert_int_equal(status, 0);
}

/* Whether this process could have it at all. */
static bool allowed(void)
{
    struct realtime realtime;
    struct rig_why why;
    if (realtime_begin(&realtime, &why))
        return false;
    realtime_end(&realtime);
    return true;
}

static int policy_of_a_child(void)
{
    int status;
    pid_t pid = fork();
    if (pid == 0)
        _exit(sched_getscheduler(0) & ~SCHED_RESET_ON_FORK);
    return waitpid(pid, &status, 0) == pid && WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static int begin_and_end(int priority)
{
    struct realtime realtime;
    struct rig_why why;
    struct sched_param param;
    struct rlimit before, limit;
    EXPECT(getrlimit(RLIMIT_RTTIME, &before) == 0);
    EXPECT(realtime_begin(&realtime, &why) == 0);
    EXPECT(sched_getscheduler(0) == (SCHED_FIFO | SCHED_RESET_ON_FORK));
    EXPECT(sched_getparam(0, &param) == 0 && param.sched_priority == priority);
    EXPECT(getrlimit(RLIMIT_RTTIME, &limit) == 0 && limit.rlim_cur == REALTIME_RUNAWAY_US && limit.rlim_max == before.rlim_max);
    EXPECT(policy_of_a_child() == SCHED_OTHER);
    EXPECT(!realtime_lost(&realtime));
    realtime_end(&realtime);
    EXPECT((sched_getscheduler(0) & ~SCHED_RESET_ON_FORK) == SCHED_OTHER);
    EXPECT(getrlimit(RLIMIT_RTTIME, &limit) == 0 && limit.rlim_cur == before.rlim_cur);
    realtime_end(&realtime);             /* a second time does nothing */
    return 0;
}

static int privileged(void)
{
    return allowed() ? begin_and_end(REALTIME_PRIORITY) : SKIPPED;
}

static void it_is_had_and_put_back_and_children_have_it_not(void **state)
{
    (void)state;
    in_a_child(privileged);
}

/* A user without privileges whose limit of real-time priority is `most`. @return false when this test may not become one */
static bool become_user(rlim_t most)
{
    const struct rlimit limit = { most, most };
    return geteuid() == 0 && setrlimit(RLIMIT_RTPRIO, &limit) == 0 && setgroups(0, NULL) == 0 && setgid(NOBODY) == 0 && setuid(NOBODY) == 0;
}

static int limited(void)
{
    return allowed() && become_user(2) ? begin_and_end(2) : SKIPPED;
}

static void a_users_limit_of_priority_is_kept(void **state)
{
    (void)state;
    in_a_child(limited);
}

static int forbidden(void)
{
    struct realtime realtime;
    struct rig_why why;
    struct rlimit before, after;
    if (!become_user(0))
        return SKIPPED;
    EXPECT(getrlimit(RLIMIT_RTTIME, &before) == 0);
    EXPECT(realtime_begin(&realtime, &why) == RIG_EIO);
    EXPECT(!strcmp(why.text, "real-time scheduling is refused: this user's real-time priority limit (RLIMIT_RTPRIO) is 0 and the "
                             "process has no CAP_SYS_NICE; \"rtprio\" in limits.conf, or a service's LimitRTPRIO, allows it"));
    EXPECT(sched_getscheduler(0) == SCHED_OTHER);
    EXPECT(getrlimit(RLIMIT_RTTIME, &after) == 0 && after.rlim_cur == before.rlim_cur);
    realtime_end(&realtime);
    return 0;
}

static void a_user_who_may_not_is_told_why(void **state)
{
    (void)state;
    in_a_child(forbidden);
}

static int run_away(bool as_user)
{
    struct realtime realtime;
    struct rig_why why;
    if (realtime_begin(&realtime, &why) || (as_user && !become_user(0)))
        return SKIPPED;
    while (!realtime_lost(&realtime))
        ;
    EXPECT((sched_getscheduler(0) & ~SCHED_RESET_ON_FORK) == SCHED_OTHER);
    realtime_end(&realtime);
    EXPECT((sched_getscheduler(0) & ~SCHED_RESET_ON_FORK) == SCHED_OTHER);
    return 0;
}

static int run_away_privileged(void)
{
    return run_away(false);
}

/* What was had by privilege is given up without: the kernel lets only the privileged clear the flag for forks. */
static int run_away_as_user(void)
{
    return run_away(true);
}

static void a_process_that_never_rests_gives_it_up(void **state)
{
    (void)state;
    in_a_child(run_away_privileged);
}

static void giving_it_up_needs_no_privilege(void **state)
{
    (void)state;
    in_a_child(run_away_as_user);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_had_and_put_back_and_children_have_it_not),
        cmocka_unit_test(a_users_limit_of_priority_is_kept),
        cmocka_unit_test(a_user_who_may_not_is_told_why),
        cmocka_unit_test(a_process_that_never_rests_gives_it_up),
        cmocka_unit_test(giving_it_up_needs_no_privilege),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
