/* The reader of the link, fed with messages that no host sends. Sizes and offsets are those of the structs in link.h. */
#include "fake_host.h"

#include <math.h>
#include <stdio.h>

static struct show *show;
static struct link_reader reader;

const struct fake_act fake_acts[] = { { NULL, NULL } };

struct message { _Alignas(8) unsigned char bytes[LINK_BYTES]; size_t used; };

static void begin(struct message *message, uint16_t flags, uint16_t records)
{
    struct link_head head = { LINK_MAGIC, flags, records };
    memset(message->bytes, 0, 1024);
    memcpy(message->bytes, &head, sizeof head);
    message->used = sizeof head;
}

static void add(struct message *message, unsigned op, const void *body, size_t size, const char *text)
{
    size_t length = text ? strlen(text) : 0;
    size_t whole = (sizeof(struct link_record_head) + size + length + 7) & ~(size_t)7;
    struct link_record_head head = { (uint16_t)op, 0, (uint32_t)whole };
    memcpy(message->bytes + message->used, &head, sizeof head);
    memcpy(message->bytes + message->used + sizeof head, body, size);
    if (length)
        memcpy(message->bytes + message->used + sizeof head + size, text, length);
    message->used += whole;
}

/* Read all records. @return how many, or RIG_ESCRIPT; the last is in *record */
static int read_all(const struct message *message, unsigned allowed, struct link_record *record)
{
    struct rig_why why;
    int count = 0, got;
    reader.show = show;
    reader.allowed = allowed;
    /* A copy of just its size: an octet read too much is the sanitizer's. */
    unsigned char *copy = malloc(message->used ? message->used : 1);
    memcpy(copy, message->bytes, message->used);
    got = link_open(&reader, copy, message->used, &why);
    if (!got)
        while ((got = link_next(&reader, record, &why)) == 1)
            count++;
    free(copy);
    return got ? got : count;
}

static struct link_wire_command good_command(void)
{
    return (struct link_wire_command){ .at_ns = 1000, .percent = 50, .fixture = 3, .cell = ENGINE_ALL_CELLS, .param = 2 };
}

static int try_command(unsigned op, struct link_wire_command command)
{
    static struct message message;
    struct link_record record;
    begin(&message, 0, 1);
    add(&message, op, &command, sizeof command, NULL);
    return read_all(&message, LINK_ALLOW_SEQUENCE, &record);
}

static void good_records_are_read(void **state)
{
    static struct message message;
    struct link_record record;
    struct link_wire_command command = good_command();
    struct link_wire_slot slot = { 5, -7, INT64_MAX, 100 };
    struct link_wire_text text = { 5, 0 };
    struct link_wire_time until = { 1500000000 };
    (void)state;
    begin(&message, LINK_LAST, 4);
    add(&message, LINK_SET, &command, sizeof command, NULL);
    add(&message, LINK_SLOT, &slot, sizeof slot, NULL);
    add(&message, LINK_SAY, &text, sizeof text, "hello");
    add(&message, LINK_WAIT, &until, sizeof until, NULL);
    assert_int_equal(read_all(&message, LINK_ALLOW_SEQUENCE, &record), 4);
    assert_int_equal(record.op, LINK_WAIT);
    assert_int_equal(record.time_ns, 1500000000);
}

static void commands_are_checked(void **state)
{
    struct link_wire_command command = good_command();
    (void)state;
    assert_int_equal(try_command(LINK_SET, command), 1);
    command.duration_ns = LINK_TIME_NS;
    assert_int_equal(try_command(LINK_FADE, command), 1);
#define WRONG(field, value) \
    command = good_command(); \
    command.field = value; \
    assert_int_equal(try_command(LINK_SET, command), RIG_ESCRIPT)
    WRONG(fixture, 4);               /* the show has four, from 0 */
    WRONG(fixture, SHOW_UNKNOWN);
    WRONG(param, 4);                 /* and four parameters */
    WRONG(param, 65536);             /* 0, once it is cut to 16 bit */
    WRONG(percent, NAN);
    WRONG(percent, INFINITY);
    WRONG(percent, 100.0001);
    WRONG(percent, -0.0001);
    WRONG(at_ns, -1);
    WRONG(at_ns, LINK_TIME_NS + 1);
    WRONG(at_ns, INT64_MIN);
    WRONG(duration_ns, -1);
    WRONG(duration_ns, INT64_MAX);
#undef WRONG
}

static void heads_are_checked(void **state)
{
    static struct message message;
    struct link_record record;
    struct link_record_head *head = (struct link_record_head *)(message.bytes + sizeof(struct link_head));
    struct link_wire_command command = good_command();
    (void)state;
#define FRESH() \
    begin(&message, 0, 1); \
    add(&message, LINK_SET, &command, sizeof command, NULL)
#define REFUSED() assert_int_equal(read_all(&message, LINK_ALLOW_SEQUENCE, &record), RIG_ESCRIPT)
    for (size_t length = 0; length < 8 + 8 + sizeof command; length++) {
        FRESH();
        message.used = length;       /* cut anywhere */
        REFUSED();
    }
    static const uint32_t sizes[] = { 0, 1, 7, 8, 40, 47, 49, 56, 65536, 0x80000000, UINT32_MAX, UINT32_MAX - 7 };
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        FRESH();
        head->size = sizes[i];
        REFUSED();
    }
    FRESH();
    head->op = LINK_OP_COUNT;
    REFUSED();
    FRESH();
    head->op = UINT16_MAX;
    REFUSED();
    FRESH();
    message.used += 8;               /* octets behind the last record */
    REFUSED();
    begin(&message, LINK_LAST, 1);   /* the last part, but nothing in it says what for */
    add(&message, LINK_SET, &command, sizeof command, NULL);
    REFUSED();
    struct link_wire_time until = { 1 };
    begin(&message, 0, 1);           /* a wait in a part that is not the last */
    add(&message, LINK_WAIT, &until, sizeof until, NULL);
    REFUSED();
    begin(&message, LINK_LAST, 2);   /* a wait that is not the last record */
    add(&message, LINK_WAIT, &until, sizeof until, NULL);
    add(&message, LINK_WAIT, &until, sizeof until, NULL);
    REFUSED();
    begin(&message, 2, 1);
    REFUSED();
    begin(&message, 0, 0);
    REFUSED();
#undef FRESH
#undef REFUSED
}

static int try_text(uint32_t length, uint32_t value, unsigned op, const char *text, struct link_record *record)
{
    static struct message message;
    struct link_wire_text wire = { length, value };
    begin(&message, op == LINK_ASK ? LINK_LAST : 0, 1);
    add(&message, op, &wire, sizeof wire, text);
    return read_all(&message, LINK_ALLOW_SEQUENCE, record);
}

static void texts_are_bounded(void **state)
{
    struct link_record record;
    char long_text[500];
    (void)state;
    memset(long_text, 'x', sizeof long_text - 1);
    long_text[sizeof long_text - 1] = '\0';
    assert_int_equal(try_text(400, 0, LINK_SAY, long_text + 99, &record), 1);
    assert_int_equal(record.length, 400);
    assert_int_equal(try_text(401, 0, LINK_SAY, long_text + 98, &record), RIG_ESCRIPT);
    assert_int_equal(try_text(17, 0, LINK_SAY, "sixteen octets..", &record), RIG_ESCRIPT);
    assert_int_equal(try_text(8, 0, LINK_SAY, "sixteen octets..", &record), RIG_ESCRIPT);
    assert_int_equal(try_text(UINT32_MAX, 0, LINK_SAY, "x", &record), RIG_ESCRIPT);
    assert_int_equal(try_text(499, 0, LINK_ASK, long_text, &record), 1);
    assert_int_equal(try_text(3, 3, LINK_ASK, "yes", &record), 1);
    assert_int_equal(try_text(3, SHOW_UNKNOWN, LINK_ASK, "yes", &record), 1);
    assert_int_equal(try_text(3, 4, LINK_ASK, "yes", &record), RIG_ESCRIPT);
}

static int try_verdict(unsigned allowed, uint32_t length, uint32_t plan, const char *text, struct link_record *record)
{
    static struct message message;
    struct link_wire_text wire = { length, plan };
    begin(&message, LINK_LAST, 1);
    add(&message, LINK_VERDICT, &wire, sizeof wire, text);
    return read_all(&message, allowed, record);
}

/* Any number is read: only the caller knows how many plans there are. */
static void a_verdict_is_a_number_and_a_line(void **state)
{
    struct link_record record;
    char long_text[402];
    (void)state;
    memset(long_text, 'x', sizeof long_text - 1);
    long_text[sizeof long_text - 1] = '\0';
    assert_int_equal(try_verdict(LINK_ALLOW_SWAP, 400, 7, long_text + 1, &record), 1);
    assert_int_equal(record.plan, 7);
    assert_int_equal(record.fixture, SHOW_UNKNOWN);
    assert_int_equal(record.length, 400);
    assert_int_equal(try_verdict(LINK_ALLOW_SWAP, 401, 7, long_text, &record), RIG_ESCRIPT);
    assert_int_equal(try_verdict(LINK_ALLOW_SWAP, UINT32_MAX, 7, "x", &record), RIG_ESCRIPT);
    assert_int_equal(try_verdict(LINK_ALLOW_SWAP, 0, UINT32_MAX, "", &record), 1);
    assert_int_equal(record.plan, UINT32_MAX);
    assert_int_equal(try_verdict(LINK_ALLOW_SWAP, 3, 1, "a\xff\x1b", &record), 1);
    assert_string_equal(record.text, "a??");
    assert_int_equal(try_verdict(LINK_ALLOW_SEQUENCE, 1, 1, "x", &record), RIG_ESCRIPT);
    assert_int_equal(try_verdict(LINK_ALLOW_RULE, 1, 1, "x", &record), RIG_ESCRIPT);
    assert_int_equal(try_verdict(LINK_ALLOW_LOAD, 1, 1, "x", &record), RIG_ESCRIPT);
}

static int try_finding(struct link_wire_finding finding, const struct link_wire_subject *others, size_t count, struct link_record *record)
{
    static struct message message;
    static unsigned char body[sizeof finding + 1001 * sizeof *others];
    memcpy(body, &finding, sizeof finding);
    memcpy(body + sizeof finding, others, count * sizeof *others);
    begin(&message, 0, 1);
    add(&message, LINK_FINDING, body, sizeof finding + count * sizeof *others, NULL);
    return read_all(&message, LINK_ALLOW_RULE, record);
}

static void findings_are_checked(void **state)
{
    static struct link_wire_subject others[1001];
    struct link_record record;
    struct link_wire_finding good = { SEVERITY_NOTE, 0, 0, 0, { SUBJECT_UNIVERSE, 1 } }, finding;
    (void)state;
    assert_int_equal(try_finding(good, others, 0, &record), 1);
    static const uint32_t counts[] = { 4, 1, 1, 0, 1, 2 };       /* of fixture, show, site, transmitter, type, universe */
    for (uint32_t kind = 0; kind < 6; kind++) {
        finding = good;
        finding.subject = (struct link_wire_subject){ kind, counts[kind] };
        assert_int_equal(try_finding(finding, others, 0, &record), RIG_ESCRIPT);
        if (counts[kind])
            finding.subject.index--;
        assert_int_equal(try_finding(finding, others, 0, &record), counts[kind] ? 1 : RIG_ESCRIPT);
    }
    finding = good;
    finding.subject.kind = 6;
    assert_int_equal(try_finding(finding, others, 0, &record), RIG_ESCRIPT);
    finding = good;
    finding.other_count = 1000;
    assert_int_equal(try_finding(finding, others, 1000, &record), 1);
    assert_int_equal(record.other_count, 1000);
    assert_int_equal(try_finding(finding, others, 999, &record), RIG_ESCRIPT);
    assert_int_equal(try_finding(finding, others, 1001, &record), RIG_ESCRIPT);
    others[999].index = 4;
    assert_int_equal(try_finding(finding, others, 1000, &record), RIG_ESCRIPT);
    others[999].index = 0;
    finding.other_count = 1001;
    assert_int_equal(try_finding(finding, others, 1001, &record), RIG_ESCRIPT);
}

static struct link_wire_about about;

static int try_about(void)
{
    static struct message message;
    struct link_record record;
    begin(&message, LINK_LAST, 1);
    add(&message, LINK_ABOUT, &about, sizeof about, NULL);
    return read_all(&message, LINK_ALLOW_LOAD, &record);
}

static void abouts_are_checked(void **state)
{
    (void)state;
#define FRESH() \
    about = (struct link_wire_about){ .kind = SCRIPT_RULE, .param_count = 1, .name = "rule", .about = "caf\xc3\xa9" }; \
    about.params[0] = (struct link_wire_param){ .least = NAN, .most = NAN, .type = PARAM_CHOICE, .name = "p" }
#define WRONG(statement) \
    FRESH(); \
    statement; \
    assert_int_equal(try_about(), RIG_ESCRIPT)
    FRESH();
    assert_int_equal(try_about(), 1);
    assert_string_equal(reader.about.name, "rule");
    assert_int_equal(reader.about.params[0].type, PARAM_CHOICE);
    WRONG(about.kind = 5);
    WRONG(about.severity = 3);
    WRONG(about.param_count = 33);
    WRONG(about.param_count = UINT32_MAX);
    WRONG(about.param_count = 2);                     /* the second has no name */
    WRONG(about.name[0] = '\0');
    WRONG(memset(about.name, 'x', sizeof about.name));                   /* no end */
    WRONG(memset(about.about, 'x', sizeof about.about));
    WRONG(strcpy(about.name, "a\nb"));
    WRONG(strcpy(about.name, "\x1b[2J"));
    WRONG(strcpy(about.name, "\xff"));
    WRONG(strcpy(about.about, "\xe2\x80\xae"));       /* U+202E */
    WRONG(about.params[0].type = 5);
    WRONG(about.params[0].name[0] = '\0');
    WRONG(memset(about.params[0].help, 'x', sizeof about.params[0].help));
    WRONG(strcpy(about.params[0].choices, "\x7f"));
#undef FRESH
#undef WRONG
}

/* Every octet of good messages set to every value: nothing but a clean answer, and nothing read past the end. */
static void no_octet_is_trusted(void **state)
{
    static struct message message, changed;
    struct link_record record;
    struct link_wire_finding finding = { SEVERITY_WARN, 1, 4, 0, { SUBJECT_FIXTURE, 0 } };
    struct { struct link_wire_finding finding; struct link_wire_subject other; } both = { finding, { SUBJECT_SHOW, 0 } };
    struct link_wire_done done = { 1, SEVERITY_WARN, 0 };
    (void)state;
    begin(&message, LINK_LAST, 2);
    add(&message, LINK_FINDING, &both, sizeof both, "text");
    add(&message, LINK_DONE, &done, sizeof done, NULL);
    assert_int_equal(read_all(&message, LINK_ALLOW_RULE, &record), 2);
    for (size_t at = 0; at < message.used; at++)
        for (int value = 0; value < 256; value++) {
            changed = message;
            changed.bytes[at] = (unsigned char)value;
            int got = read_all(&changed, ~0u, &record);
            assert_true(got == 2 || got == RIG_ESCRIPT);
        }
}

static void check_text(const char *in, size_t length, size_t size, const char *expected)
{
    char out[64];
    assert_int_equal(link_text(out, size, in, length), strlen(expected));
    assert_string_equal(out, expected);
}

/* RFC 3629 for what is UTF-8; U+0085 C1, U+061C, U+2028, U+2066 are the controls. */
static void texts_are_cleaned(void **state)
{
    (void)state;
    check_text("plain", 5, 64, "plain");
    check_text("a\0b", 3, 64, "a?b");
    check_text("a\tb\nc\rd\x7f", 8, 64, "a b c?d?");
    check_text("\xc2\x85\xd8\x9c\xe2\x80\xa8\xe2\x81\xa6", 10, 64, "????");
    check_text("\xe2\x80\x8e\xe2\x80\x8f\xe2\x80\x8d", 9, 64, "??\xe2\x80\x8d");       /* U+200E, U+200F; U+200D joins letters */
    check_text("\xc0\x80\xed\xa0\x80\xf5", 6, 64, "??????");
    check_text("\xe2\x82\xac\xf0\x9f\x92\xa1", 7, 64, "\xe2\x82\xac\xf0\x9f\x92\xa1");
    check_text("\xe2\x82\xac", 3, 4, "\xe2\x82\xac");
    check_text("\xe2\x82\xac", 3, 3, "");
    check_text("ab\xc3", 3, 64, "ab?");
    check_text("abc", 3, 3, "ab");
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
        cmocka_unit_test(good_records_are_read), cmocka_unit_test(commands_are_checked), cmocka_unit_test(heads_are_checked),
        cmocka_unit_test(texts_are_bounded), cmocka_unit_test(a_verdict_is_a_number_and_a_line), cmocka_unit_test(findings_are_checked), cmocka_unit_test(abouts_are_checked),
        cmocka_unit_test(no_octet_is_trusted), cmocka_unit_test(texts_are_cleaned),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
