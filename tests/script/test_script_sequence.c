/* The player of a sequence: what a host sends becomes commands and wishes, and every way it can end becomes one sentence.
 * The engine here only writes down what it is given. */
#include "fake_host.h"
#include "watch.h"

#include <stdio.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static struct show *show;
static char heard[16384];            /* what the engine was told */

static void hear(const char *format, ...) __attribute__((format(printf, 1, 2)));
static void hear(const char *format, ...)
{
    size_t used = strlen(heard);
    va_list args;
    va_start(args, format);
    vsnprintf(heard + used, sizeof heard - used, format, args);
    va_end(args);
}

/* ---- the engine ---- */

int engine_set(struct engine *engine, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent, struct rig_why *why)
{
    (void)engine;
    if (fixture == 3)
        return rig_fail(why, RIG_ESCRIPT, "fixture 4 is not among those this sequence was given");
    hear("set %lld %u %d %u %g;", (long long)at_ns, fixture, (int)cell, param, percent);
    return 0;
}

int engine_fade(struct engine *engine, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent, int64_t duration_ns, struct rig_why *why)
{
    (void)engine;
    (void)why;
    hear("fade %lld %u %d %u %g %lld;", (long long)at_ns, fixture, (int)cell, param, percent, (long long)duration_ns);
    return 0;
}

int engine_slot(struct engine *engine, int64_t at_ns, int64_t universe, int64_t slot, double percent, struct rig_why *why)
{
    (void)engine;
    (void)why;
    hear("slot %lld %lld %lld %g;", (long long)at_ns, (long long)universe, (long long)slot, percent);
    return 0;
}

static int64_t clear_takes_ns;
static unsigned clears;

static int64_t clock_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

int engine_clear(struct engine *engine, int64_t at_ns, uint32_t fixture, uint32_t cell, struct rig_why *why)
{
    int64_t end_ns = clear_takes_ns ? clock_ns() + clear_takes_ns : 0;
    (void)engine;
    (void)why;
    while (end_ns && clock_ns() < end_ns)
        ;
    clears++;
    hear("clear %lld %u %d;", (long long)at_ns, fixture, (int)cell);
    return 0;
}

int64_t engine_fades_end(const struct engine *engine, int64_t now_ns)
{
    (void)engine;
    hear("fades %lld;", (long long)now_ns);
    return now_ns + 500;
}

void engine_said(struct engine *engine, const char *text)
{
    (void)engine;
    hear("said %s;", text);
}

/* ---- acts ---- */

static void fake_sequence(struct host *host)
{
    fake_about(host, SCRIPT_SEQUENCE, "sequence");
}

static void act_plays(struct host *host)
{
    struct host_resume resume;
    host_queue_print(host, "loading", 7);
    fake_sequence(host);
    host_queue_set(host, 0, 1, 2, 3, 40.5);
    host_queue_fade(host, 0, 0, ENGINE_ALL_CELLS, 1, 100, 2000000000);
    host_queue_say(host, "off we go\n", 10);
    host_wait(host, 1500000000, &resume);
    host_queue_slot(host, resume.now_ns, 2, 512, 1);
    host_queue_clear(host, resume.now_ns, 1, 0);
    int64_t end = host_fades_end(host, resume.now_ns);
    host_queue_set(host, end, 0, 0, 0, 0);
    host_ask(host, 1, "Red on every cell?", 18, &resume);
    host_queue_print(host, resume.note, strlen(resume.note));
    host_queue_set(host, resume.now_ns, 0, 0, 0, resume.answer == CREW_NO ? 11 : 99);
    host_done(host);
}

/* More than a message holds: the batch is split. */
static void act_many(struct host *host)
{
    struct host_resume resume;
    fake_sequence(host);
    for (int i = 0; i < 10000; i++)
        host_queue_clear(host, 0, 0, 0);
    host_wait(host, 1000000, &resume);
    host_done(host);
}

static void act_asks_about_another(struct host *host)
{
    struct host_resume resume;
    fake_sequence(host);
    host_ask(host, 0, "Well?", 5, &resume);
    host_done(host);
}

static void act_refused(struct host *host)
{
    struct host_resume resume;
    fake_sequence(host);
    host_queue_set(host, 0, 3, 0, 0, 1);
    host_wait(host, 1, &resume);
    host_done(host);
}

static void act_raises(struct host *host)
{
    fake_sequence(host);
    host_error(host, "it.lua:1: no", false);
}

static void act_usage(struct host *host)
{
    char text[64];
    snprintf(text, sizeof text, "%s: expected a number, found %s", host->sets[0].name, host->sets[0].value);
    host_error(host, text, true);
}

static void act_grant(struct host *host)
{
    char text[64];
    snprintf(text, sizeof text, "%u fixtures, the second is %u", host->fixture_count, host->fixtures[1]);
    host_error(host, text, false);
}

static void act_rule(struct host *host)
{
    fake_rule(host);
    host_done(host);
}

/* Waits that move time on by nothing: all one burst. */
static void act_waits_for_nothing(struct host *host)
{
    struct host_resume resume = { 0 };
    fake_sequence(host);
    while (!host->killed)
        host_wait(host, 0, &resume);
    host_error(host, host_limit_text(host), false);
}

/* The same from a host that keeps no limit. */
static void act_asks_for_ever(struct host *host)
{
    struct host_resume resume = { 0 };
    fake_sequence(host);
    for (;;)
        host_ask(host, SHOW_UNKNOWN, "?", 1, &resume);
}

/* 2 s of CPU time in bursts of 0.1 s: no burst passes the limit. */
static void act_long(struct host *host)
{
    struct host_resume resume = { 0 };
    fake_sequence(host);
    for (int i = 0; i < 20; i++) {
        struct timespec t;
        int64_t end = 0;
        do {
            clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
            int64_t now = (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
            end = end ? end : now + 100000000;
            if (now >= end)
                break;
        } while (true);
        host_wait(host, resume.now_ns + 1000000, &resume);
    }
    host_done(host);
}

static void act_spins(struct host *host)
{
    fake_sequence(host);
    for (volatile unsigned i = 0;; i++)
        ;
}

static void act_says(struct host *host)
{
    fake_sequence(host);
    for (int i = 0; i < 1000; i++)
        host_queue_say(host, "x", 1);
    host_done(host);
}

/* Commands from a host that keeps no limit: past what half a second of Lua can make. */
static void act_floods(struct host *host)
{
    static unsigned char message[LINK_BYTES];
    struct link_record_head record = { LINK_CLEAR, 0, sizeof record + sizeof(struct link_wire_command) };
    struct link_head head = { LINK_MAGIC, 0, 0 };
    size_t used = sizeof head;
    fake_sequence(host);
    for (; used + record.size <= sizeof message; used += record.size, head.records++)
        memcpy(message + used, &record, sizeof record);
    memcpy(message, &head, sizeof head);
    for (;;)
        send(host->link->fd, message, used, MSG_NOSIGNAL);
}

static void act_crashes(struct host *host)
{
    struct host_resume resume;
    fake_sequence(host);
    host_wait(host, 1000, &resume);
    _exit(9);
}

static void act_stays(struct host *host)
{
    struct host_resume resume;
    fake_sequence(host);
    host_wait(host, 1000, &resume);
    host_done(host);
}

static void send_wait(struct host *host)
{
    struct { struct link_head head; struct link_record_head record; struct link_wire_time until; } wait =
        { { LINK_MAGIC, LINK_LAST, 1 }, { LINK_WAIT, 0, 16 }, { 5 } };
    send(host->link->fd, &wait, sizeof wait, MSG_NOSIGNAL);
}

/* Commands while it should wait for the engine. */
static void act_does_not_wait(struct host *host)
{
    char nothing[8];
    fake_sequence(host);
    for (int i = 0; i < 100; i++)
        send_wait(host);
    for (;;)
        recv(host->link->fd, nothing, sizeof nothing, 0);
}

static void act_dies_waiting(struct host *host)
{
    fake_sequence(host);
    send_wait(host);
    _exit(4);
}

static void act_spins_waiting(struct host *host)
{
    fake_sequence(host);
    send_wait(host);
    for (volatile unsigned i = 0;; i++)
        ;
}

const struct fake_act fake_acts[] = {
    { "plays", act_plays }, { "many", act_many }, { "refused", act_refused }, { "asks_about_another", act_asks_about_another }, { "raises", act_raises }, { "usage", act_usage },
    { "grant", act_grant }, { "rule", act_rule }, { "waits_for_nothing", act_waits_for_nothing }, { "asks_for_ever", act_asks_for_ever },
    { "long", act_long }, { "spins", act_spins }, { "says", act_says }, { "floods", act_floods }, { "crashes", act_crashes }, { "stays", act_stays },
    { "does_not_wait", act_does_not_wait }, { "dies_waiting", act_dies_waiting }, { "spins_waiting", act_spins_waiting }, { NULL, NULL },
};

/* ---- playing ---- */

static void on_said(void *context, const char *text)
{
    (void)context;
    hear("crew %s;", text);
}

static void on_printed(void *context, const char *text)
{
    (void)context;
    hear("print %s;", text);
}

static struct script_sequence *start(const char *act)
{
    struct script script = fake_script(act);
    static struct script kept;
    static const uint32_t fixtures[] = { 2, 1 };
    struct script_sequence *sequence;
    struct rig_why why;
    kept = script;
    heard[0] = '\0';
    if (script_sequence_start(show, &kept, fixtures, 2, NULL, 0, &sequence, &why))
        fail_msg("%s", why.text);
    return sequence;
}

/* Collect until there is a wish. */
static struct engine_wish collect(struct engine_player *player)
{
    struct engine_wish wish;
    do
        player->collect(player->context, NULL, 50, &wish);
    while (wish.kind == WISH_MORE);
    return wish;
}

/* Play to the end as a dry run does. */
static struct engine_wish play(const char *act)
{
    struct script_sequence *sequence = start(act);
    struct engine_player *player = script_sequence_player(sequence, on_said, on_printed, NULL);
    int64_t now_ns = 0;
    struct engine_wish wish;
    for (;;) {
        wish = collect(player);
        if (wish.kind == WISH_DONE || wish.kind == WISH_BROKEN)
            break;
        if (wish.kind == WISH_WAIT && wish.until_ns > now_ns)
            now_ns = wish.until_ns;
        player->resume(player->context, now_ns, CREW_SKIP, NULL);
    }
    script_sequence_free(sequence);
    return wish;
}

static void assert_broken(const char *act, const char *expected)
{
    struct engine_wish wish = play(act);
    assert_int_equal(wish.kind, WISH_BROKEN);
    assert_int_equal(wish.why.code, RIG_ESCRIPT);
    if (!strstr(wish.why.text, expected))
        fail_msg("%s: \"%s\", expected \"%s\"", act, wish.why.text, expected);
}

static void commands_and_wishes_come_in_order(void **state)
{
    struct script_sequence *sequence = start("plays");
    struct engine_player *player;
    struct engine_wish wish;
    (void)state;
    assert_string_equal(script_sequence_about(sequence)->name, "sequence");
    player = script_sequence_player(sequence, on_said, on_printed, NULL);
    assert_true(player->fd >= 0);
    player->resume(player->context, 0, CREW_SKIP, NULL);
    wish = collect(player);
    assert_int_equal(wish.kind, WISH_WAIT);
    assert_int_equal(wish.until_ns, 1500000000);
    assert_string_equal(heard, "print loading;set 0 1 2 3 40.5;fade 0 0 -1 1 100 2000000000;said off we go ;crew off we go ;");
    wish = collect(player);
    assert_int_equal(wish.kind, WISH_WAIT);           /* again, because nobody has resumed it */
    heard[0] = '\0';
    player->resume(player->context, 1500000000, CREW_SKIP, NULL);
    wish = collect(player);
    assert_int_equal(wish.kind, WISH_ASK);
    assert_int_equal(wish.fixture, 1);
    assert_string_equal(wish.question, "Red on every cell?");
    assert_string_equal(heard, "slot 1500000000 2 512 1;clear 1500000000 1 0;fades 1500000000;set 1500000500 0 0 0 0;");
    heard[0] = '\0';
    player->resume(player->context, 3000000000, CREW_NO, "cell 3 \x1b is dark");
    wish = collect(player);
    assert_int_equal(wish.kind, WISH_DONE);
    assert_string_equal(heard, "print cell 3 ? is dark;set 3000000000 0 0 0 11;");
    assert_int_equal(collect(player).kind, WISH_DONE);
    script_sequence_free(sequence);
}

static void a_batch_of_ten_thousand_arrives(void **state)
{
    (void)state;
    assert_int_equal(play("many").kind, WISH_DONE);
    assert_int_equal(strncmp(heard, "clear 0 0 0;clear 0 0 0;", 24), 0);
}

/* In a live run, where nothing is waited for, commands that take the engine long leave it a turn every 0.1 ms. A command here takes
 * 1 ms, so a turn has one, and says that there is more, for which the socket would not wake anybody: it is read already. */
static void a_flood_of_commands_leaves_the_engine_its_turn(void **state)
{
    struct script_sequence *sequence = start("many");
    struct engine_player *player = script_sequence_player(sequence, on_said, on_printed, NULL);
    struct engine_wish wish;
    unsigned again = 0, most = 0;
    (void)state;
    clears = 0;
    player->resume(player->context, 0, CREW_SKIP, NULL);
    do {
        unsigned before = clears;
        clear_takes_ns = before < 50 ? 1000000 : 0;
        player->collect(player->context, NULL, 0, &wish);
        if (before < 50 && clears - before > most)
            most = clears - before;
        again += wish.kind == WISH_AGAIN;
    } while (wish.kind == WISH_MORE || wish.kind == WISH_AGAIN);
    clear_takes_ns = 0;
    assert_int_equal(wish.kind, WISH_WAIT);
    assert_int_equal(clears, 10000);
    assert_int_equal(most, 1);
    assert_true(again >= 50);
    script_sequence_free(sequence);
}

static void what_the_engine_refuses_breaks_the_script(void **state)
{
    (void)state;
    assert_broken("refused", "refused: fixture 4 is not among those this sequence was given");
    assert_broken("asks_about_another", "asks about fixture 1, which is not among the fixtures of this run");
    assert_broken("raises", "raises: it.lua:1: no");
    assert_broken("crashes", "crashes: ended without a word (exit status 9)");
}

static void what_does_not_load_is_refused(void **state)
{
    struct script script = fake_script("rule");
    struct script_set set = { "steps", "many" };
    const uint32_t fixtures[] = { 2, 1 };
    struct script_sequence *sequence;
    struct rig_why why;
    (void)state;
    assert_int_equal(script_sequence_start(show, &script, fixtures, 2, NULL, 0, &sequence, &why), RIG_ESCRIPT);
    assert_string_equal(why.text, "rule: is a rule, not a sequence");
    assert_null(sequence);
    script = fake_script("grant");
    assert_int_equal(script_sequence_start(show, &script, fixtures, 2, NULL, 0, &sequence, &why), RIG_ESCRIPT);
    assert_string_equal(why.text, "grant: 2 fixtures, the second is 1");
    script = fake_script("usage");
    assert_int_equal(script_sequence_start(show, &script, fixtures, 2, &set, 1, &sequence, &why), RIG_EUSAGE);
    assert_string_equal(why.text, "steps: expected a number, found many");
}

static void a_burst_has_half_a_second(void **state)
{
    (void)state;
    assert_broken("spins", "passed the limit of 0.5 s CPU time and was killed");
    assert_int_equal(play("long").kind, WISH_DONE);
}

static void waits_that_last_nothing_are_one_burst(void **state)
{
    (void)state;
    assert_broken("waits_for_nothing", "passed the limit of 0.5 s CPU time");
    assert_broken("asks_for_ever", "passed the limit of 0.5 s CPU time and was killed");
}

static void a_flood_of_commands_ends_the_host(void **state)
{
    (void)state;
    assert_broken("floods", "sent what no script host sends (more commands than a burst can hold) and was killed");
}

static void a_flood_of_words_is_cut(void **state)
{
    (void)state;
    assert_int_equal(play("says").kind, WISH_DONE);
    size_t lines = 100 * (strlen("said x;") + strlen("crew x;"));
    assert_string_equal(heard + lines, "said (more lines of crew.say were left out);crew (more lines of crew.say were left out);");
}

/* As a live run has it: the link is looked at while the sequence waits; or not before the sequence is resumed. */
static void a_host_that_does_not_wait_is_ended(void **state)
{
    (void)state;
    for (int resumed = 0; resumed < 2; resumed++) {
        struct script_sequence *sequence = start("does_not_wait");
        struct engine_player *player = script_sequence_player(sequence, NULL, NULL, NULL);
        assert_int_equal(collect(player).until_ns, 5);
        if (resumed)
            player->resume(player->context, 5, CREW_SKIP, NULL);
        struct engine_wish wish = collect(player);
        while (wish.kind == WISH_WAIT)                /* until its second message is there */
            wish = collect(player);
        assert_int_equal(wish.kind, WISH_BROKEN);
        assert_non_null(strstr(wish.why.text, "sent what no script host sends (records while it should wait) and was killed"));
        script_sequence_free(sequence);
    }
}

static void a_host_that_dies_while_it_waits_is_seen(void **state)
{
    struct script_sequence *sequence = start("dies_waiting");
    struct engine_player *player = script_sequence_player(sequence, NULL, NULL, NULL);
    struct engine_wish wish = collect(player);
    (void)state;
    while (wish.kind == WISH_WAIT)
        wish = collect(player);
    assert_int_equal(wish.kind, WISH_BROKEN);
    assert_non_null(strstr(wish.why.text, "dies_waiting: ended without a word (exit status 4)"));
    script_sequence_free(sequence);
}

static void a_host_that_runs_while_it_should_wait_passes_its_limit(void **state)
{
    struct script_sequence *sequence = start("spins_waiting");
    struct engine_player *player = script_sequence_player(sequence, NULL, NULL, NULL);
    struct engine_wish wish = collect(player);
    (void)state;
    while (wish.kind == WISH_WAIT)
        wish = collect(player);
    assert_int_equal(wish.kind, WISH_BROKEN);
    assert_non_null(strstr(wish.why.text, "passed the limit of 0.5 s CPU time and was killed"));
    script_sequence_free(sequence);
}

static void stopping_ends_the_process(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct script_sequence *sequence = start(i ? "stays" : "spins");
        struct engine_player *player = script_sequence_player(sequence, NULL, NULL, NULL);
        struct engine_wish wish;
        if (i)
            collect(player);
        else
            player->collect(player->context, NULL, 0, &wish);
        player->stop(player->context);
        assert_int_equal(waitpid(-1, NULL, WNOHANG), -1);
        player->resume(player->context, 5, CREW_SKIP, NULL);
        script_sequence_free(sequence);
    }
    script_sequence_free(start("stays"));
    assert_int_equal(waitpid(-1, NULL, WNOHANG), -1);
    script_sequence_free(NULL);
}

static void no_descriptor_is_left(void **state)
{
    int before = open_descriptors();
    (void)state;
    for (int i = 0; i < 5; i++) {
        play("plays");
        play("raises");
        play("crashes");
    }
    assert_int_equal(open_descriptors(), before);
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
        cmocka_unit_test(commands_and_wishes_come_in_order), cmocka_unit_test(a_batch_of_ten_thousand_arrives),
        cmocka_unit_test(a_flood_of_commands_leaves_the_engine_its_turn),
        cmocka_unit_test(what_the_engine_refuses_breaks_the_script), cmocka_unit_test(what_does_not_load_is_refused),
        cmocka_unit_test(a_burst_has_half_a_second), cmocka_unit_test(waits_that_last_nothing_are_one_burst),
        cmocka_unit_test(a_flood_of_words_is_cut), cmocka_unit_test(a_flood_of_commands_ends_the_host), cmocka_unit_test(a_host_that_does_not_wait_is_ended),
        cmocka_unit_test(a_host_that_dies_while_it_waits_is_seen), cmocka_unit_test(a_host_that_runs_while_it_should_wait_passes_its_limit),
        cmocka_unit_test(stopping_ends_the_process), cmocka_unit_test(no_descriptor_is_left),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
