/* rigcall run: exit statuses, questions at a terminal, confirmations, the lock, files. What is sent and when is tested with the
 * engine and in tests/conformance. Live runs go to a socket of the test on 127.0.0.1 and listen on the loopback interface. */
#include <arpa/inet.h>
#include <jansson.h>
#include <sys/socket.h>
#include <sys/stat.h>

#include "cli_test.h"

#define SEQUENCE(name, body) "return { kind = 'sequence', name = '" name "', about = 'a test', run = function(p) " body " end }\n"
#define LIT "for f in rig.fixtures{ type = 'lamp' } do out.set(f, { red = 50, intensity = 50 }) end wait(0.2) "

static const char plain[] = SEQUENCE("plain", LIT);
static const char asks[] = SEQUENCE("asks", LIT "crew.say('look') for f in rig.fixtures{ type = 'lamp' } do crew.ask(f, 'Red?') end");
static const char breaks[] = SEQUENCE("breaks", "wait(0.1) error('no luck')");
/* Five flashes in a second on full white: WCAG 2.x 2.3.1 allows three. */
static const char flashes[] = SEQUENCE("flashes", "local f = rig.get('fixture', 1) for i = 1, 5 do out.set(f, { red = 100, intensity = 100 }) "
                                       "wait(0.1) out.set(f, { red = 0, intensity = 0 }) wait(0.1) end");

/* A socket on 127.0.0.1 that nobody else has, and its port. */
static int receiver(char port[8])
{
    struct sockaddr_in address = { .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    socklen_t length = sizeof address;
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    assert_true(fd >= 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);
    assert_int_equal(getsockname(fd, (struct sockaddr *)&address, &length), 0);
    snprintf(port, 8, "%d", ntohs(address.sin_port));
    return fd;
}

/* How many datagrams wait in the socket; closes it. */
static int received(int fd)
{
    char packet[1500];
    int count = 0;
    while (recv(fd, packet, sizeof packet, 0) > 0)
        count++;
    close(fd);
    return count;
}

#define LIVE(port) "--live", "--if", "lo", "--to", "127.0.0.1", "--port", port

static void a_dry_run_says_what_it_did(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "plain.lua", plain), *begin = text_of("dry run of %s over %s: 0.", sequence, place->show);
    struct program_result result = RUN("run", place->show, sequence);
    assert_int_equal(result.status, 0);
    assert_string_equal(result.err, "");
    assert_ptr_equal(strstr(result.out, begin), result.out);
    assert_non_null(strstr(result.out, " packets, 1 universe\n"));
    assert_null(strstr(result.out, "answers"));
    program_result_fini(&result);
    free(begin);
    free(sequence);
}

static void captures_and_traces_repeat_and_are_named(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "plain.lua", plain), *bytes[2][2], *pcap[2], *trace[2];
    size_t sizes[2];
    for (int i = 0; i < 2; i++) {
        struct stat status;
        pcap[i] = text_of("%s/%d.pcap", place->folder, i);
        trace[i] = text_of("%s/%d.trace", place->folder, i);
        struct program_result result = RUN("run", place->show, sequence, "--pcap", pcap[i], "--trace", trace[i]);
        char *named = text_of("\ncapture: %s, ", pcap[i]);
        assert_int_equal(result.status, 0);
        assert_non_null(strstr(result.out, named));
        free(named);
        program_result_fini(&result);
        assert_int_equal(stat(pcap[i], &status), 0);
        sizes[i] = (size_t)status.st_size;
        bytes[i][0] = program_read(pcap[i]);
        bytes[i][1] = program_read(trace[i]);
    }
    assert_int_equal(sizes[0], sizes[1]);
    assert_true(sizes[0] > 1000);
    assert_memory_equal(bytes[0][0], bytes[1][0], sizes[0]);
    assert_string_equal(bytes[0][1], bytes[1][1]);
    assert_int_equal(bytes[0][1][0], '{');
    for (int i = 0; i < 2; i++) {
        free(bytes[i][0]);
        free(bytes[i][1]);
        free(pcap[i]);
        free(trace[i]);
    }
    free(sequence);
}

static void a_capture_on_stdout_keeps_the_summary_off_it(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "plain.lua", plain);
    struct program_result result = RUN("run", place->show, sequence, "--pcap", "-");
    assert_int_equal(result.status, 0);
    assert_true(result.out_length > 1000);
    assert_memory_equal(result.out, "\x4d\x3c\xb2\xa1", 4);   /* pcap with nanoseconds, little-endian: pcap-savefile(5) */
    assert_non_null(strstr(result.err, "dry run of"));
    program_result_fini(&result);
    struct program_result full = RUN("run", place->show, sequence, "--pcap", "/dev/full");
    assert_int_equal(full.status, 3);
    assert_non_null(strstr(full.err, "/dev/full"));
    program_result_fini(&full);
    free(sequence);
}

static void json_has_the_numbers(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "asks.lua", asks), *path = text_of("%s/summary.json", place->folder);
    struct program_result result = RUN("run", place->show, sequence, "--format", "json", "-o", path, "--sync", "9");
    assert_int_equal(result.status, 0);
    assert_string_equal(result.out, "");
    json_t *got = json_load_file(path, 0, NULL);
    assert_non_null(got);
    assert_string_equal(json_string_value(json_object_get(got, "run")), "dry");
    assert_true(json_is_true(json_object_get(got, "done")));
    assert_int_equal(json_integer_value(json_object_get(got, "universes")), 1);
    assert_true(json_integer_value(json_object_get(got, "packets")) > 0);
    /* One universe: a synchronisation packet for each data packet. The list of universes at the start, an empty one at the end. */
    assert_int_equal(json_integer_value(json_object_get(got, "sync_packets")), json_integer_value(json_object_get(got, "packets")));
    assert_int_equal(json_integer_value(json_object_get(got, "discovery_packets")), 2);
    assert_string_equal(json_string_value(json_object_get(got, "realtime")), "not asked");
    assert_int_equal(json_integer_value(json_object_get(json_object_get(got, "answers"), "skip")), 2);
    assert_int_equal(json_array_size(json_object_get(got, "verdicts")), 2);
    json_t *first = json_array_get(json_object_get(got, "verdicts"), 0);
    assert_int_equal(json_integer_value(json_object_get(first, "fixture")), 1);
    assert_string_equal(json_string_value(json_object_get(first, "question")), "Red?");
    json_decref(got);
    program_result_fini(&result);
    free(path);
    free(sequence);
}

static void help_explains_a_sequence_and_its_parameters(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "sweep.lua",
        "return { kind = 'sequence', name = 'sweep', about = 'one way and back', run = function() end, params = {\n"
        "  hold = { 'number', unit = 's', min = 0.5, max = 60, default = 2, help = 'how long' },\n"
        "  least = { 'integer', min = 1 }, way = { 'choice', choices = { 'up', 'down' }, default = 'up', help = 'which way' },\n"
        "  who = { 'text', default = 'crew' }, loud = { 'boolean', default = false, help = 'say more' } } }\n");
    assert_result(RUN("run", place->show, sequence, "--help"), 0,
        "sweep: one way and back\n\nParameters, set by --set NAME=VALUE:\n"
        "  hold   how long (0.5 to 60 s; default 2)\n"
        "  least  (from 1)\n"
        "  loud   say more (true or false; default false)\n"
        "  way    which way (one of up down; default up)\n"
        "  who    (text; default crew)\n"
        "\nrigcall run --help explains the options.\n", "");
    char *none = program_file(place->folder, "plain.lua", plain);
    assert_result(RUN("run", place->show, none, "-h"), 0,
        "plain: a test\n\nIt has no parameters.\n\nrigcall run --help explains the options.\n", "");
    assert_fails(RUN("run", place->show, "colour-rol", "--help"), 2, "rigcall: no sequence \"colour-rol\", nearest is \"colour-roll\"\n");
    assert_fails(RUN("run", "/nonexistent/x.show.lua", "--help"), 3, "rigcall: /nonexistent/x.show.lua: cannot open");
    free(none);
    free(sequence);
}

static void help_with_a_show_lists_its_sequences(void **state)
{
    const struct place *place = *state;
    char *folder = text_of("%s/sequences", place->folder), *head = text_of("rigcall run %s SEQUENCE --help", place->show);
    assert_int_equal(mkdir(folder, 0700), 0);
    char *own = program_file(folder, "own.lua", plain), *bad = program_file(folder, "torn.lua", "return {");
    struct program_result result = RUN("run", place->show, "--help");
    assert_int_equal(result.status, 0);
    assert_non_null(strstr(result.out, "\n  each-answers  "));
    assert_non_null(strstr(result.out, "\n  own           a test\n"));
    assert_non_null(strstr(result.out, "\n  torn          "));
    assert_non_null(strstr(result.out, head));
    program_result_fini(&result);
    free(bad);
    free(own);
    free(head);
    free(folder);
}

static void wrong_usage_is_said_before_anything_happens(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "plain.lua", plain);
    assert_result(RUN("run", place->show, sequence, "--live"), 2, "",
                  "rigcall: run: --live needs --if NAME, the interface of the lighting network, or --to ADDR\n");
    assert_result(RUN("run", place->show, sequence, "--force-sync"), 2, "", "rigcall: run: --force-sync needs --sync N\n");
    assert_fails(RUN("run", place->show, sequence, "--sync", "0"), 2, "rigcall: run: --sync");
    assert_fails(RUN("run", place->show, sequence, "--sync", "64000"), 2, "rigcall: run: --sync");
    assert_result(RUN("run", place->show, sequence, "--live", "--dry"), 2, "", "rigcall: run: --live and --dry exclude each other\n");
    assert_result(RUN("run", place->show, sequence, "--twin"), 2, "", "rigcall: run: --twin is not in this version\n");
    assert_result(RUN("run", place->show, sequence, "--set", "level"), 2, "", "rigcall: run: --set \"level\", expected P=V\n");
    assert_result(RUN("run", place->show, sequence, "--pcap=-", "--trace=-"), 2, "",
                  "rigcall: run: --pcap and --trace cannot both go to standard output\n");
    assert_result(RUN("run", place->show, sequence, "--ipv6", "--to", "::1"), 2, "",
                  "rigcall: run: --ipv6 and --to exclude each other: --ipv6 chooses multicast groups\n");
    assert_result(RUN("run", place->show, sequence, "--if=a", "--if=b", "--if=c", "--if=d", "--if=e", "--if=f", "--if=g", "--if=h",
                      "--if=i"), 2, "", "rigcall: run: --if is given 9 times, 8 are allowed\n");
    assert_fails(RUN("run", place->show, sequence, "--ttl", "0"), 2, "rigcall: run: --ttl");
    assert_fails(RUN("run", place->show, sequence, "--ttl", "256"), 2, "rigcall: run: --ttl");
    assert_fails(RUN("run", place->show, sequence, "--dscp", "64"), 2, "rigcall: run: --dscp");
    static const char *const nobody[] = { "ff18::8300:1", "239.255.0.1", "0.0.0.0", "fe80::1", "fe80::1%nosuchif0", "desk" };
    for (size_t i = 0; i < sizeof nobody / sizeof *nobody; i++) {
        char *text = text_of("rigcall: run: --to \"%s\", expected the IPv4 or IPv6 address of a host; one that begins with fe80: needs its "
                             "interface, as in fe80::1%%eth0\n", nobody[i]);
        assert_result(RUN("run", place->show, sequence, "--to", nobody[i]), 2, "", text);
        free(text);
    }
    assert_result(RUN("run", place->show, sequence, "--where", "site=nowhere"), 2, "",
                  "rigcall: run: --where \"site=nowhere\" selects no fixture\n");
    assert_fails(RUN("run", place->show, sequence, "--where", "sight=hall"), 2, "rigcall: selection \"sight=hall\": unknown key \"sight\"");
    assert_fails(RUN("run", place->show, sequence, "--set", "speed=3"), 2, "rigcall: ");
    assert_result(RUN("run", place->show, "colour-rol"), 2, "", "rigcall: no sequence \"colour-rol\", nearest is \"colour-roll\"\n");
    assert_fails(RUN("run", place->show, "./none.lua"), 3, "rigcall: ./none.lua: No such file");
    free(sequence);
}

static void a_name_is_found_beside_the_show_and_must_be_one(void **state)
{
    const struct place *place = *state;
    char *folder = text_of("%s/sequences", place->folder);
    assert_int_equal(mkdir(folder, 0700), 0);
    char *own = program_file(folder, "plain.lua", plain), *same = program_file(folder, "level-all.lua", plain);
    struct program_result result = RUN("run", place->show, "plain");
    assert_int_equal(result.status, 0);
    program_result_fini(&result);
    assert_fails(RUN("run", place->show, "level-all"), 2, "rigcall: two sequences are called \"level-all\": ");
    free(own);
    free(same);
    free(folder);
}

static void unsound_shows_are_not_driven(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "plain.lua", plain), *text = strdup(small_show);
    memcpy(strstr(text, "id = 2"), "id = 1", 6);
    char *show = program_file(place->folder, "twice.show.lua", text);
    struct program_result result = RUN("run", show, sequence);
    assert_int_equal(result.status, 3);
    assert_non_null(strstr(result.err, "fixture 1"));
    program_result_fini(&result);
    free(show);
    free(text);
    free(sequence);
}

static void broken_scripts_are_status_5_and_rules_are_no_sequences(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "breaks.lua", breaks);
    struct program_result result = RUN("run", place->show, sequence);
    assert_int_equal(result.status, 5);
    assert_non_null(strstr(result.err, "no luck"));
    program_result_fini(&result);
    struct program_result rule = RUN("run", place->show, RIGCALL_SOURCE_DIR "/scripts/rules/landing.lua");
    assert_int_equal(rule.status, 5);
    program_result_fini(&rule);
    free(sequence);
}

static void the_guard_stops_flashes_with_status_6(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "flashes.lua", flashes);
    struct program_result result = RUN("run", place->show, sequence);
    assert_int_equal(result.status, 6);
    assert_non_null(strstr(result.err, "fixture 1 Left"));
    assert_non_null(strstr(result.err, "flashes"));
    program_result_fini(&result);
    free(sequence);
}

static void arming_needs_a_terminal_and_a_hazard(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "plain.lua", plain);
    assert_result(RUN("run", place->show, sequence, "--arm", "9"), 6, "",
                  "rigcall: --arm must be confirmed by a person at a terminal, and there is none\n");
    assert_result(RUN("run", place->show, sequence, "--allow-flash"), 6, "",
                  "rigcall: --allow-flash must be confirmed by a person at a terminal, and there is none\n");
    assert_result(RUN("run", place->show, sequence, "--arm", "1"), 2, "", "rigcall: --arm: fixture 1 Left has no hazard, there is nothing to arm\n");
    assert_result(RUN("run", place->show, sequence, "--arm", "9,44"), 2, "", "rigcall: --arm: the show has no fixture \"44\"\n");
    free(sequence);
}

static void arming_is_typed_and_logged(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "plain.lua", plain), *log = text_of("%s/rigcall/guard.log", place->folder);
    struct program_terminal terminal = START("run", place->show, sequence, "--arm", "9");
    program_expect(&terminal, "fixture 9 Head: hazard motion");
    program_expect(&terminal, "Type arm to go on");
    program_type(&terminal, "yes\n");
    assert_int_equal(program_end(&terminal), 6);
    free(terminal.seen);
    assert_null(program_read(log));

    terminal = START("run", place->show, sequence, "--arm", "9", "--allow-flash");
    program_expect(&terminal, "Type arm to go on");
    program_type(&terminal, "arm\n");
    program_expect(&terminal, "Type flash to go on");
    program_type(&terminal, "flash\n");
    assert_int_equal(program_end(&terminal), 0);
    free(terminal.seen);
    char *text = program_read(log);
    assert_non_null(text);
    json_t *first = json_loads(text, JSON_DISABLE_EOF_CHECK, NULL), *second = json_loads(strchr(text, '\n') + 1, 0, NULL);
    assert_string_equal(json_string_value(json_object_get(first, "confirmed")), "arm");
    assert_string_equal(json_string_value(json_object_get(first, "show")), "Small \"one\"");
    assert_int_equal(json_integer_value(json_array_get(json_object_get(first, "fixtures"), 0)), 9);
    assert_int_equal(json_integer_value(json_object_get(first, "uid")), (json_int_t)getuid());
    assert_string_equal(json_string_value(json_object_get(second, "confirmed")), "flash");
    assert_int_equal(json_array_size(json_object_get(second, "fixtures")), 0);
    json_decref(first);
    json_decref(second);
    free(text);
    free(log);
    free(sequence);
}

static void a_live_run_sends_and_cautions(void **state)
{
    const struct place *place = *state;
    char port[8], *sequence = program_file(place->folder, "plain.lua", plain);
    int fd = receiver(port);
    struct program_result result = RUN("run", place->show, sequence, LIVE(port));
    assert_int_equal(result.status, 0);
    assert_ptr_equal(strstr(result.out, "live run of "), result.out);
    assert_non_null(strstr(result.out, "\nlost 0 packets, late "));
    assert_non_null(strstr(result.err, "photosensitive epilepsy"));
    assert_true(received(fd) >= 4);                           /* at least one of data, three that end the stream: E1.31 6.2.6 */
    program_result_fini(&result);
    free(sequence);
}

static void questions_without_a_terminal_need_an_answer(void **state)
{
    const struct place *place = *state;
    char port[8], *sequence = program_file(place->folder, "asks.lua", asks);
    char *err = text_of("rigcall: run: %s asks questions; without a terminal give --answer skip or --answer yes\n", sequence);
    int fd = receiver(port);
    assert_result(RUN("run", place->show, sequence, LIVE(port)), 2, "", err);
    assert_int_equal(received(fd), 0);
    fd = receiver(port);
    struct program_result result = RUN("run", place->show, sequence, LIVE(port), "--answer", "yes");
    assert_int_equal(result.status, 0);
    assert_non_null(strstr(result.out, "\nanswers: 2 yes, 0 no, 0 skip\n"));
    assert_true(received(fd) >= 4);
    program_result_fini(&result);
    free(err);
    free(sequence);
}

static void the_crew_answers_and_one_run_at_a_time(void **state)
{
    const struct place *place = *state;
    char port[8], *sequence = program_file(place->folder, "asks.lua", asks);
    int fd = receiver(port);
    struct program_terminal terminal = START("run", place->show, sequence, LIVE(port));
    program_expect(&terminal, "look");
    program_expect(&terminal, "fixture 1 Left: Red? [y, n or s");
    assert_fails(RUN("run", place->show, sequence, LIVE(port), "--answer=skip"), 4, "rigcall: a live run of \"Small \"one\"\" is going on already");
    program_type(&terminal, "perhaps\n");
    program_expect(&terminal, "y, n or s?");
    program_type(&terminal, "y\n");
    program_expect(&terminal, "fixture 2 Right: Red? [y, n or s");
    program_type(&terminal, "n  blue instead\n");
    program_expect(&terminal, "no  fixture 2 Right: Red? - blue instead");
    program_expect(&terminal, "answers: 1 yes, 1 no, 0 skip");
    assert_int_equal(program_end(&terminal), 1);
    assert_true(received(fd) >= 4);
    free(terminal.seen);
    free(sequence);
}

static void an_interrupted_run_ends_in_order_with_status_1(void **state)
{
    const struct place *place = *state;
    char port[8], *sequence = program_file(place->folder, "asks.lua", asks);
    int fd = receiver(port);
    struct program_terminal terminal = START("run", place->show, sequence, LIVE(port));
    program_expect(&terminal, "fixture 1 Left: Red? [y, n or s");
    program_type(&terminal, "\x03");
    program_expect(&terminal, "interrupted; every level is back at its default");
    assert_int_equal(program_end(&terminal), 1);
    assert_true(received(fd) >= 4);
    free(terminal.seen);
    free(sequence);
}

static void a_live_run_is_not_stopped_by_the_terminal(void **state)
{
    const struct place *place = *state;
    char port[8], *sequence = program_file(place->folder, "asks.lua", asks);
    int fd = receiver(port);
    struct program_terminal terminal = START("run", place->show, sequence, LIVE(port), "--where", "id=1");
    program_expect(&terminal, "fixture 1 Left: Red? [y, n or s");
    program_type(&terminal, "\x1a");                          /* Ctrl-Z */
    program_type(&terminal, "y\n");
    assert_int_equal(program_end(&terminal), 0);
    assert_true(received(fd) >= 4);
    free(terminal.seen);
    free(sequence);
}

static void an_interface_that_is_not_there_is_status_4(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "plain.lua", plain);
    struct program_result result = RUN("run", place->show, sequence, "--live", "--if", "nosuchif0", "--to", "127.0.0.1");
    assert_int_equal(result.status, 4);
    assert_non_null(strstr(result.err, "nosuchif0"));
    program_result_fini(&result);
    free(sequence);
}

/* RFC 8200 3: version, traffic class (DSCP 46 is b8) at 0, hop limit at 7, destination at 24. RFC 791: type of service at 1, time to
 * live at 8, destination at 16. ANSI E1.31-2018 9.3.1, 9.3.2; 6.2.6: Preview_Data is bit 7 of octet 112. The first record of a pcap
 * file is at 40; the universe is 7. */
static void options_of_the_network_stand_in_a_dry_capture(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "plain.lua", plain);
    struct program_result v6 = RUN("run", place->show, sequence, "--pcap", "-", "--ipv6", "--ttl", "3", "--dscp", "46", "--preview");
    const uint8_t *octets = (const uint8_t *)v6.out + 40;
    static const uint8_t group[16] = { 0xff, 0x18, [12] = 0x83, 0, 0, 7 }, loopback[16] = { [15] = 1 };
    assert_int_equal(v6.status, 0);
    assert_memory_equal(octets, "\x6b\x80\x00\x00", 4);
    assert_int_equal(octets[7], 3);
    assert_memory_equal(octets + 8, loopback, 16);
    assert_memory_equal(octets + 24, group, 16);
    assert_int_equal(octets[40 + 8 + 112], 0x80);
    program_result_fini(&v6);
    struct program_result v4 = RUN("run", place->show, sequence, "--pcap", "-", "--ttl", "3", "--dscp", "46");
    octets = (const uint8_t *)v4.out + 40;
    assert_int_equal(v4.status, 0);
    assert_int_equal(octets[1], 0xb8);
    assert_int_equal(octets[8], 3);
    assert_memory_equal(octets + 16, "\xef\xff\x00\x07", 4);
    assert_int_equal(octets[20 + 8 + 112], 0);
    program_result_fini(&v4);
    struct program_result host = RUN("run", place->show, sequence, "--pcap", "-", "--to", "::1", "--port", "7");
    octets = (const uint8_t *)host.out + 40;
    assert_int_equal(host.status, 0);
    assert_int_equal(octets[7], 64);
    assert_memory_equal(octets + 24, loopback, 16);
    assert_memory_equal(octets + 42, "\x00\x07", 2);
    program_result_fini(&host);
    free(sequence);
}

static void a_live_run_goes_to_an_ipv6_address(void **state)
{
    const struct place *place = *state;
    struct sockaddr_in6 address = { .sin6_family = AF_INET6, .sin6_addr = IN6ADDR_LOOPBACK_INIT };
    socklen_t length = sizeof address;
    char port[8];
    int fd = socket(AF_INET6, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0 || bind(fd, (struct sockaddr *)&address, sizeof address) != 0)
        skip();                       /* a host without IPv6 */
    assert_int_equal(getsockname(fd, (struct sockaddr *)&address, &length), 0);
    snprintf(port, sizeof port, "%d", ntohs(address.sin6_port));
    char *sequence = program_file(place->folder, "plain.lua", plain);
    struct program_result result = RUN("run", place->show, sequence, "--live", "--if", "lo", "--to", "::1", "--port", port);
    assert_int_equal(result.status, 0);
    assert_true(received(fd) >= 4);
    program_result_fini(&result);
    free(sequence);
}

static void long_dry_runs_show_progress_on_a_terminal_only(void **state)
{
    const struct place *place = *state;
    char *sequence = program_file(place->folder, "slow.lua", SEQUENCE("slow",
        "for i = 1, 6 do local t = os.clock() while os.clock() - t < 0.3 do end wait(1) end"));
    struct program_terminal terminal = START("run", place->show, sequence);
    program_expect(&terminal, " s played\033[K");
    program_expect(&terminal, "dry run of");
    assert_int_equal(program_end(&terminal), 0);
    free(terminal.seen);
    struct program_result result = RUN("run", place->show, sequence);
    assert_int_equal(result.status, 0);
    assert_string_equal(result.err, "");
    program_result_fini(&result);
    free(sequence);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(a_dry_run_says_what_it_did),
        PLACE_TEST(captures_and_traces_repeat_and_are_named),
        PLACE_TEST(a_capture_on_stdout_keeps_the_summary_off_it),
        PLACE_TEST(json_has_the_numbers),
        PLACE_TEST(help_explains_a_sequence_and_its_parameters),
        PLACE_TEST(help_with_a_show_lists_its_sequences),
        PLACE_TEST(wrong_usage_is_said_before_anything_happens),
        PLACE_TEST(a_name_is_found_beside_the_show_and_must_be_one),
        PLACE_TEST(unsound_shows_are_not_driven),
        PLACE_TEST(broken_scripts_are_status_5_and_rules_are_no_sequences),
        PLACE_TEST(the_guard_stops_flashes_with_status_6),
        PLACE_TEST(arming_needs_a_terminal_and_a_hazard),
        PLACE_TEST(arming_is_typed_and_logged),
        PLACE_TEST(a_live_run_sends_and_cautions),
        PLACE_TEST(questions_without_a_terminal_need_an_answer),
        PLACE_TEST(the_crew_answers_and_one_run_at_a_time),
        PLACE_TEST(an_interrupted_run_ends_in_order_with_status_1),
        PLACE_TEST(long_dry_runs_show_progress_on_a_terminal_only),
        PLACE_TEST(a_live_run_is_not_stopped_by_the_terminal),
        PLACE_TEST(an_interface_that_is_not_there_is_status_4),
        PLACE_TEST(options_of_the_network_stand_in_a_dry_capture),
        PLACE_TEST(a_live_run_goes_to_an_ipv6_address),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
