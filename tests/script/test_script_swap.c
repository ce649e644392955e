/* The engine's side of a swap policy against hosts that say what no policy says. */
#include "fake_host.h"

#include <sys/socket.h>
#include <unistd.h>

static void out_of_range(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    host_verdict(host, 3, "mine", 4);
}

static void chooses(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    host_verdict(host, host->plan_count, "good\033", 5);
}

static void finds(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    host_send_finding(host, SEVERITY_FAIL, (struct subject){ SUBJECT_SHOW, 0 }, NULL, 0, "x", 1);
    host_verdict(host, 1, "", 0);
}

static void ends_without_a_word(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    host_done(host);
}

static void asks_on_and_on(struct host *host)
{
    struct host_resume resume;
    fake_about(host, SCRIPT_SWAP, "test");
    for (;;)
        host_ask(host, SHOW_UNKNOWN, "again?", 6, &resume);
}

static void drives(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    host_queue_slot(host, 0, 1, 1, 100);
    host_verdict(host, 1, "", 0);
}

/* A message of its own: the functions of a host end the process behind a verdict. */
static void send_text(struct host *host, enum link_op op, uint32_t value, const char *text)
{
    struct { struct link_head head; struct link_record_head record; struct link_wire_text wire; char text[512]; } message;
    size_t length = strlen(text), size = (sizeof message.record + sizeof message.wire + length + 7) & ~(size_t)7;
    memset(&message, 0, sizeof message);
    message.head = (struct link_head){ LINK_MAGIC, LINK_LAST, 1 };
    message.record = (struct link_record_head){ (uint16_t)op, 0, (uint32_t)size };
    message.wire = (struct link_wire_text){ (uint32_t)length, value };
    memcpy(message.text, text, length);
    if (send(host->link->fd, &message, sizeof message.head + size, MSG_NOSIGNAL) < 0)
        _exit(0);
}

static void chooses_twice(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    send_text(host, LINK_VERDICT, 1, "");
    send_text(host, LINK_VERDICT, 2, "");
    _exit(0);
}

static void chooses_and_says_nothing(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    send_text(host, LINK_VERDICT, 1, "");
    send(host->link->fd, "", 0, MSG_NOSIGNAL);
    for (;;)
        ;
}

static void chooses_and_lives_on(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    send_text(host, LINK_VERDICT, 1, "");
    for (;;)
        ;
}

static void chooses_the_last_number(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    send_text(host, LINK_VERDICT, UINT32_MAX, "");
    _exit(0);
}

static void refuses_without_a_word(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    send_text(host, LINK_VERDICT, 0, "");
    _exit(0);
}

static void reason_too_long(struct host *host)
{
    char text[450];
    memset(text, 'x', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    fake_about(host, SCRIPT_SWAP, "test");
    send_text(host, LINK_VERDICT, 1, text);
    _exit(0);
}

static void decides_while_it_loads(struct host *host)
{
    send_text(host, LINK_VERDICT, 1, "");
    _exit(0);
}

/* Whether the engine sees the next question before or after it has answered is chance; it is refused in either case. */
static void asks_without_listening(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    for (;;)
        send_text(host, LINK_ASK, SHOW_UNKNOWN, "again?");
}

static void asks_about_a_fixture(struct host *host)
{
    struct host_resume resume;
    fake_about(host, SCRIPT_SWAP, "test");
    host_ask(host, 0, "again?", 6, &resume);
    host_verdict(host, 1, "", 0);
}

static void prints_on_and_on(struct host *host)
{
    fake_about(host, SCRIPT_SWAP, "test");
    for (;;) {
        host->link->prints = 0;
        host_queue_print(host, "x", 1);
    }
}

const struct fake_act fake_acts[] = {
    { "out_of_range", out_of_range }, { "chooses", chooses }, { "finds", finds }, { "ends", ends_without_a_word },
    { "asks", asks_on_and_on }, { "drives", drives }, { "twice", chooses_twice }, { "nothing", chooses_and_says_nothing },
    { "lives", chooses_and_lives_on }, { "last number", chooses_the_last_number }, { "no word", refuses_without_a_word },
    { "long", reason_too_long }, { "early", decides_while_it_loads }, { "deaf", asks_without_listening },
    { "fixture", asks_about_a_fixture }, { "prints", prints_on_and_on }, { NULL, NULL }
};

struct asked { unsigned times; int err; };

static int ask(void *context, const char *question, enum crew_answer *answer, char *note, size_t note_size, struct rig_why *why)
{
    struct asked *asked = context;
    assert_string_equal(question, "again?");
    assert_true(note_size >= 1 && !*note);
    *answer = CREW_NO;
    return ++asked->times == 5 && asked->err ? rig_fail(why, asked->err, "nobody is there") : 0;
}

static int decide(const char *act, struct asked *asked, struct script_verdict *verdict, struct rig_why *why)
{
    static const struct plan one = { .kind = PLAN_SWAP }, two = { .kind = PLAN_SWAP };
    static const struct plan *const plans[] = { &one, &two };
    struct show *show = fake_show(1);
    struct script script = { .path = (char *)"swaps/test.lua", .stem = (char *)"test", .bytes = (char *)act, .length = strlen(act) };
    struct script_swap_options options = { .script = &script, .plans = plans, .plan_count = 2, .ask = ask, .context = asked };
    int err = script_decide(show, &options, verdict, why);
    show_free(show);
    return err;
}

static void what_it_says_is_checked(void **state)
{
    (void)state;
    static const struct { const char *act, *words; } bad[] = {
        { "out_of_range", "swaps/test.lua: chose plan 3 of 2 and was not believed" },
        { "last number", "swaps/test.lua: chose plan 4294967295 of 2 and was not believed" },
        { "finds", "(FINDING) that may not come now" }, { "ends", "(DONE) that may not come now" },
        { "drives", "(SLOT) that may not come now" }, { "early", "(VERDICT) that may not come now" },
        { "twice", "another word after its last" }, { "nothing", "another word after its last" },
        { "lives", "passed the limit of 2 s CPU time and was killed" }, { "long", "a VERDICT that is not well formed" },
        { "deaf", "sent what no script host sends (" }, { "fixture", "a question about a fixture" },
        { "prints", "more lines of print than are allowed" },
    };
    struct script_verdict verdict;
    struct rig_why why;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct asked asked = { 0, 0 };
        assert_int_equal(decide(bad[i].act, &asked, &verdict, &why), RIG_ESCRIPT);
        assert_int_equal(verdict.plan, 0);
        if (!strstr(why.text, bad[i].words))
            fail_msg("%s: %s", bad[i].act, why.text);
    }
    assert_int_equal(decide("chooses", NULL, &verdict, &why), 0);
    assert_int_equal(verdict.plan, 2);
    assert_string_equal(verdict.why, "good?");
    assert_string_equal(verdict.name, "test");
    assert_int_equal(decide("no word", NULL, &verdict, &why), 0);
    assert_int_equal(verdict.plan, 0);
    assert_string_equal(verdict.why, "");
}

static void who_asks_may_be_stopped(void **state)
{
    (void)state;
    struct asked asked = { 0, RIG_EUSAGE };
    struct script_verdict verdict;
    struct rig_why why;
    assert_int_equal(decide("asks", &asked, &verdict, &why), RIG_EUSAGE);
    assert_string_equal(why.text, "nobody is there");
    assert_int_equal(asked.times, 5);
}

static void asking_on_and_on_ends(void **state)
{
    (void)state;
    struct asked asked = { 0, 0 };
    struct script_verdict verdict;
    struct rig_why why;
    assert_int_equal(decide("asks", &asked, &verdict, &why), RIG_ESCRIPT);
    assert_non_null(strstr(why.text, "more questions than are allowed"));
    assert_int_equal(asked.times, LINK_QUESTIONS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_it_says_is_checked),
        cmocka_unit_test(who_asks_may_be_stopped),
        cmocka_unit_test(asking_on_and_on_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
