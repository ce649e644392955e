/* script_check(): order, names, kinds, floods, hostile messages, and nothing left behind. The acts are native code. */
#include "fake_host.h"
#include "watch.h"

#include <stdio.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

static struct show *show;

static struct subject fixture(uint32_t index)
{
    return (struct subject){ SUBJECT_FIXTURE, index };
}

static void find(struct host *host, enum severity severity, uint32_t index, const char *text)
{
    host_send_finding(host, severity, fixture(index), NULL, 0, text, strlen(text));
}

static void act_a(struct host *host)
{
    struct subject others[2] = { { SUBJECT_FIXTURE, 2 }, { SUBJECT_UNIVERSE, 1 } };
    fake_about(host, SCRIPT_RULE, "alpha");
    host_send_finding(host, SEVERITY_WARN, fixture(1), others, 2, "second", 6);
    find(host, SEVERITY_FAIL, 0, "first\tof\x1b[31m all \xff\xc2\x85 \xe2\x80\xae caf\xc3\xa9");
    host_queue_print(host, "a line\r", 7);
    host_done(host);
}

static void act_b(struct host *host)
{
    fake_about(host, SCRIPT_RULE, "beta");
    find(host, SEVERITY_NOTE, 3, "note");
    host_done(host);
}

static void act_raises(struct host *host)
{
    fake_about(host, SCRIPT_RULE, "raises");
    find(host, SEVERITY_FAIL, 0, "found before");
    host_error(host, "raises.lua:3: attempt to index a nil value", false);
}

static void act_limit(struct host *host)
{
    fake_about(host, SCRIPT_RULE, "limit");
    find(host, SEVERITY_FAIL, 0, "found by chance");
    host_pass_limit(host, HOST_LIMIT_MEMORY);
    host_error(host, host_limit_text(host), false);
}

static void act_flood(struct host *host)
{
    char text[2000];
    memset(text, 'x', sizeof text);
    fake_about(host, SCRIPT_RULE, "flood");
    for (int i = 0; i < 5000; i++)
        host_send_finding(host, i == 3000 ? SEVERITY_FAIL : SEVERITY_WARN, fixture(0), NULL, 0, text, sizeof text);
    for (int i = 0; i < 1000; i++)
        host_queue_print(host, text, sizeof text);
    host_done(host);
}

static void act_lib(struct host *host)
{
    fake_about(host, SCRIPT_LIB, "a-lib");
    host_error(host, "a lib was run", false);
}

static void act_sequence(struct host *host)
{
    fake_about(host, SCRIPT_SEQUENCE, "a-sequence");
    host_error(host, "a sequence was run", false);
}

/* ---- raw messages ---- */

static unsigned char raw[LINK_BYTES + 8];
static size_t raw_used;

static void raw_begin(uint16_t flags, uint16_t records)
{
    struct link_head head = { LINK_MAGIC, flags, records };
    memcpy(raw, &head, sizeof head);
    raw_used = sizeof head;
}

static void raw_record(enum link_op op, const void *body, size_t size)
{
    struct link_record_head head = { (uint16_t)op, 0, (uint32_t)(sizeof head + size) };
    memcpy(raw + raw_used, &head, sizeof head);
    memcpy(raw + raw_used + sizeof head, body, size);
    raw_used += sizeof head + size;
}

static void raw_send(struct host *host)
{
    char nothing[8];
    send(host->link->fd, raw, raw_used, MSG_NOSIGNAL);
    for (;;)
        recv(host->link->fd, nothing, sizeof nothing, 0);
}

static void raw_nonsense(struct host *host)
{
    memset(raw, 0xa5, sizeof raw);
    raw_used = 1000;
    raw_send(host);
}

static void raw_empty(struct host *host)
{
    raw_used = 0;
    raw_send(host);
}

static void raw_huge(struct host *host)
{
    raw_begin(0, 1);
    raw_used = LINK_BYTES + 8;
    raw_send(host);
}

static void raw_run_early(struct host *host)
{
    struct link_wire_done done = { 0, 0, 0 };
    raw_begin(LINK_LAST, 1);
    raw_record(LINK_DONE, &done, sizeof done);
    raw_send(host);
}

static void raw_finding(struct host *host, struct link_wire_finding finding)
{
    fake_rule(host);
    raw_begin(0, 1);
    raw_record(LINK_FINDING, &finding, sizeof finding);
    raw_send(host);
}

static void raw_wrong_index(struct host *host)
{
    raw_finding(host, (struct link_wire_finding){ 0, 0, 0, 0, { SUBJECT_FIXTURE, 4 } });
}

static void raw_wrong_severity(struct host *host)
{
    raw_finding(host, (struct link_wire_finding){ 3, 0, 0, 0, { SUBJECT_FIXTURE, 0 } });
}

static void raw_wrong_others(struct host *host)
{
    raw_finding(host, (struct link_wire_finding){ 0, UINT32_MAX, 0, 0, { SUBJECT_FIXTURE, 0 } });
}

static void raw_wrong_length(struct host *host)
{
    raw_finding(host, (struct link_wire_finding){ 0, 0, UINT32_MAX, 0, { SUBJECT_FIXTURE, 0 } });
}

static void raw_command_of_a_rule(struct host *host)
{
    struct link_wire_time until = { 0 };
    fake_rule(host);
    raw_begin(LINK_LAST, 1);
    raw_record(LINK_WAIT, &until, sizeof until);
    raw_send(host);
}

/* Findings without end, each message full of them. */
static void raw_endless(struct host *host)
{
    struct link_wire_finding finding = { SEVERITY_NOTE, 0, 0, 0, { SUBJECT_FIXTURE, 0 } };
    fake_rule(host);
    raw_begin(0, 0);
    uint16_t records = 0;
    while (raw_used + 40 <= LINK_BYTES) {
        raw_record(LINK_FINDING, &finding, sizeof finding);
        records++;
    }
    struct link_head head = { LINK_MAGIC, 0, records };
    memcpy(raw, &head, sizeof head);
    for (;;)
        send(host->link->fd, raw, raw_used, MSG_NOSIGNAL);
}

static void raw_endless_print(struct host *host)
{
    struct link_wire_text text = { 0, 0 };
    raw_begin(0, 1);
    raw_record(LINK_PRINT, &text, sizeof text);
    for (;;)
        send(host->link->fd, raw, raw_used, MSG_NOSIGNAL);
}

const struct fake_act fake_acts[] = {
    { "a", act_a }, { "b", act_b }, { "b2", act_b }, { "raises", act_raises }, { "limit", act_limit }, { "flood", act_flood },
    { "lib", act_lib }, { "sequence", act_sequence }, { "nonsense", raw_nonsense }, { "empty", raw_empty }, { "huge", raw_huge },
    { "run_early", raw_run_early }, { "wrong_index", raw_wrong_index }, { "wrong_severity", raw_wrong_severity },
    { "wrong_others", raw_wrong_others }, { "wrong_length", raw_wrong_length }, { "command_of_a_rule", raw_command_of_a_rule },
    { "endless", raw_endless }, { "endless_print", raw_endless_print }, { NULL, NULL },
};

static void findings_come_in_the_order_of_rules_and_fixtures(void **state)
{
    const char *acts[] = { "b", "a" };
    (void)state;
    for (unsigned jobs = 1; jobs <= 4; jobs++) {
        size_t count;
        struct findings *findings = fake_check(show, acts, 2, jobs);
        const struct finding *items = findings_items(findings, &count);
        assert_int_equal(count, 3);
        assert_string_equal(items[0].rule, "alpha");
        /* A tab becomes a space; ESC, an octet that is no UTF-8, a C1 control and a right-to-left override become '?'. */
        assert_string_equal(items[0].text, "first of?[31m all ?? ? caf\xc3\xa9");
        assert_int_equal(items[0].severity, SEVERITY_FAIL);
        assert_string_equal(items[1].text, "second");
        assert_int_equal(items[1].other_count, 2);
        assert_int_equal(items[1].others[0].index, 2);
        assert_int_equal(items[1].others[1].kind, SUBJECT_UNIVERSE);
        assert_string_equal(items[2].rule, "beta");
        findings_failures(findings, &count);
        assert_int_equal(count, 0);
        findings_free(findings);
    }
}

static void one_broken_script_stops_no_other(void **state)
{
    const char *acts[] = { "raises", "nonsense", "a", "limit", "b" };
    size_t count;
    (void)state;
    struct findings *findings = fake_check(show, acts, 5, 2);
    const struct finding *items = findings_items(findings, &count);
    /* What a script found before it raised stays; what one found that passed a limit is left to chance, and goes. */
    assert_int_equal(count, 4);
    assert_string_equal(items[3].text, "found before");
    const struct script_failure *failures = findings_failures(findings, &count);
    assert_int_equal(count, 3);
    assert_string_equal(failures[0].name, "limit");
    assert_string_equal(failures[0].text, "passed the limit of 64 MiB of memory");
    assert_string_equal(failures[1].name, "nonsense");
    assert_string_equal(failures[2].text, "raises.lua:3: attempt to index a nil value");
    findings_free(findings);
}

static void a_repeated_name_is_an_error_of_the_later_script(void **state)
{
    const char *acts[] = { "b", "b2" };
    size_t count;
    (void)state;
    for (unsigned jobs = 1; jobs <= 2; jobs++) {
        struct findings *findings = fake_check(show, acts, 2, jobs);
        findings_items(findings, &count);
        assert_int_equal(count, 1);
        const struct script_failure *failures = findings_failures(findings, &count);
        assert_int_equal(count, 1);
        assert_string_equal(failures[0].path, "b2");
        assert_string_equal(failures[0].text, "repeats the name of b, so it is left out");
        findings_free(findings);
    }
}

static void libs_are_skipped_and_other_kinds_refused(void **state)
{
    const char *acts[] = { "lib", "sequence" };
    size_t count;
    (void)state;
    struct findings *findings = fake_check(show, acts, 2, 1);
    const struct script_failure *failures = findings_failures(findings, &count);
    assert_int_equal(count, 1);
    assert_string_equal(failures[0].name, "a-sequence");
    assert_string_equal(failures[0].text, "is a sequence, not a rule");
    findings_free(findings);
}

static int printed_lines;
static char last_line[512];

static void on_print(void *context, const char *script, const char *text)
{
    (void)context;
    assert_string_equal(script, "flood");
    printed_lines++;
    snprintf(last_line, sizeof last_line, "%s", text);
}

/* 5,000 findings of 2,000 octets: 1,000 of 1,000 octets, one "and 4000 more"; 1,000 lines: 200, and one that says so. */
static void floods_are_cut(void **state)
{
    struct script script = fake_script("flood");
    struct check_options options = { .scripts = &script, .script_count = 1, .printed = on_print };
    struct findings *findings = findings_new();
    size_t count;
    (void)state;
    assert_int_equal(script_check(show, &options, findings, NULL), 0);
    findings_sort(findings, show);
    const struct finding *items = findings_items(findings, &count);
    assert_int_equal(count, 1001);
    assert_int_equal(strlen(items[0].text), 1000);
    assert_non_null(strstr(items[1000].text, "and 4000 more"));
    assert_int_equal(items[1000].severity, SEVERITY_FAIL);
    findings_free(findings);
    assert_int_equal(printed_lines, 201);
    assert_string_equal(last_line, "(more lines of print were left out)");
}

static void only_names_rules(void **state)
{
    struct script scripts[] = { fake_script("a"), fake_script("b"), fake_script("nonsense") };
    const char *only[] = { "beta" }, *unknown[] = { "betta" };
    struct check_options options = { .scripts = scripts, .script_count = 2, .only = only, .only_count = 1 };
    struct findings *findings = findings_new();
    struct rig_why why;
    size_t count;
    (void)state;
    assert_int_equal(script_check(show, &options, findings, &why), 0);
    findings_items(findings, &count);
    assert_int_equal(count, 1);
    options.only = unknown;
    assert_int_equal(script_check(show, &options, findings, &why), RIG_EUSAGE);
    assert_string_equal(why.text, "no rule is called \"betta\"; the nearest is \"beta\"");
    options.script_count = 3;
    assert_int_equal(script_check(show, &options, findings, &why), RIG_EUSAGE);
    assert_string_equal(why.text, "no rule is called \"betta\"; the nearest is \"beta\"; a script that does not load: nonsense");
    findings_free(findings);
}

static void hostile_messages_end_the_host(void **state)
{
    (void)state;
    assert_failure(show, "nonsense", "sent what no script host sends (a message that does not begin as one) and was killed");
    assert_failure(show, "empty", "sent what no script host sends (an empty message) and was killed");
    assert_failure(show, "huge", "sent what no script host sends (a message over 64 KiB) and was killed");
    assert_failure(show, "run_early", "(a record of kind 11 (DONE) that may not come now)");
    assert_failure(show, "wrong_index", "(a FINDING that is not well formed)");
    assert_failure(show, "wrong_severity", "(a FINDING that is not well formed)");
    assert_failure(show, "wrong_others", "(a FINDING that is not well formed)");
    assert_failure(show, "wrong_length", "(a FINDING that is not well formed)");
    assert_failure(show, "command_of_a_rule", "(a record of kind 8 (WAIT) that may not come now)");
}

/* No host sends them: what is over the limit is counted in the host. Reading them to the end of its CPU time could take hours. */
static void endless_findings_end_the_host(void **state)
{
    (void)state;
    assert_failure(show, "endless", "sent what no script host sends (more findings than are allowed) and was killed");
    assert_failure(show, "endless_print", "sent what no script host sends (more lines of print than are allowed) and was killed");
}

static void nothing_is_left_behind(void **state)
{
    const char *acts[] = { "a", "b", "raises", "nonsense", "huge", "lib", "sequence", "limit" };
    (void)state;
    findings_free(fake_check(show, acts, 8, 8));
    int before = open_descriptors();
    for (int i = 0; i < 20; i++)
        findings_free(fake_check(show, acts, 8, 8));
    assert_int_equal(open_descriptors(), before);
    assert_int_equal(waitpid(-1, NULL, WNOHANG), -1);
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
        cmocka_unit_test(findings_come_in_the_order_of_rules_and_fixtures),
        cmocka_unit_test(one_broken_script_stops_no_other),
        cmocka_unit_test(a_repeated_name_is_an_error_of_the_later_script),
        cmocka_unit_test(libs_are_skipped_and_other_kinds_refused),
        cmocka_unit_test(floods_are_cut),
        cmocka_unit_test(only_names_rules),
        cmocka_unit_test(hostile_messages_end_the_host),
        cmocka_unit_test(endless_findings_end_the_host),
        cmocka_unit_test(nothing_is_left_behind),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
