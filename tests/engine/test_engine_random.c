/* Random streams of commands against a slow and simple engine of the test's own: it keeps every command, finds each level from the
 * beginning of the run anew, keeps all light that was ever sent, and finds all transitions anew in every frame. */
#include "rig.h"

enum { SLOTS = 64, FRAMES = 240, COMMANDS = 4000, LIGHTS = 40, RATE = 40 };

/* ---- random numbers, the same in every run ---- */

static uint64_t random_state;

static uint32_t below(uint32_t limit)
{
    random_state = random_state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)((random_state >> 33) % limit);
}

/* ---- the rig: offsets are written down here once more, by hand ---- */

/* 1..8   bar A: 2 cells of intensity red green blue
 * 9..16  spot B: pan pan+fine intensity red red+fine amber lime white
 * 9..12  same slots: bar C, 1 cell of intensity red green blue (patched over B's head)
 * 20..26 eye D: head intensity red; 2 cells of green; tail white, speed, strobe (the last is held at 0) */
struct value { int slot, fine; const char *param; int owner, cell; };
enum { BAR_A, SPOT_B, BAR_C, EYE_D, FIXTURES };
static const struct value values[] = {
    { 1, 0, "intensity", BAR_A, 0 },    { 2, 0, "red", BAR_A, 0 },       { 3, 0, "green", BAR_A, 0 },
    { 4, 0, "blue", BAR_A, 0 },         { 5, 0, "intensity", BAR_A, 1 }, { 6, 0, "red", BAR_A, 1 },
    { 7, 0, "green", BAR_A, 1 },        { 8, 0, "blue", BAR_A, 1 },      { 9, 10, "pan", SPOT_B, -1 },
    { 11, 0, "intensity", SPOT_B, -1 }, { 12, 13, "red", SPOT_B, -1 },   { 14, 0, "amber", SPOT_B, -1 },
    { 15, 0, "lime", SPOT_B, -1 },      { 16, 0, "white", SPOT_B, -1 },  { 9, 0, "intensity", BAR_C, 0 },
    { 10, 0, "red", BAR_C, 0 },         { 11, 0, "green", BAR_C, 0 },    { 12, 0, "blue", BAR_C, 0 },
    { 20, 0, "intensity", EYE_D, -1 },  { 21, 0, "red", EYE_D, -1 },     { 22, 0, "green", EYE_D, 0 },
    { 23, 0, "green", EYE_D, 1 },       { 24, 0, "white", EYE_D, -1 },   { 25, 0, "speed", EYE_D, -1 },
};
enum { VALUES = sizeof values / sizeof *values };
static const char *const params[] = { "intensity", "red", "green", "blue", "pan", "amber", "lime", "white", "speed" };

static void make_rig(struct rig *rig, bool guarded)
{
    rig_init(rig);
    rig_site(rig, "quay");
    rig_fixture(rig, 1, rig_type(rig, "bar", HAZARD_NONE, "", 2, "intensity red green blue", ""), "quay", 1, 1);
    rig_fixture(rig, 2,
                rig_type(rig, "spot", HAZARD_NONE, "pan pan+fine intensity red red+fine amber lime white", 0, "", ""),
                "quay", 1, 9);
    rig_fixture(rig, 3, rig_type(rig, "one", HAZARD_NONE, "", 1, "intensity red green blue", ""), NULL, 1, 9);
    rig_fixture(rig, 4, rig_type(rig, "eye", HAZARD_NONE, "intensity red", 2, "green", "white speed strobe"), "quay", 1, 20);
    assert_int_equal(rig_try_start(rig, RATE, !guarded, NULL, 0), 0);
}

/* ---- the simple engine: levels ---- */

struct command { int64_t at_ns, duration_ns; double percent; int slot, form; int partner; };       /* form 0: octet, 1: high, 2: low */
static struct command commands[COMMANDS];
static int command_count;

/* The last command for a slot among the first `before`, or -1. */
static int last_command(int slot, int before)
{
    for (int c = before - 1; c >= 0; c--)
        if (commands[c].slot == slot)
            return c;
    return -1;
}

static double start_of(int command);

static double percent_of(int command, double time_ns)
{
    if (command < 0)
        return 0;
    const struct command *c = &commands[command];
    if (c->duration_ns == 0 || time_ns + 1000 >= (double)c->at_ns + (double)c->duration_ns)
        return c->percent;
    double from = start_of(command), passed = time_ns - (double)c->at_ns;
    return from + (c->percent - from) * (passed > 0 ? passed : 0) / (double)c->duration_ns;
}

static int octet_of(int slot, int before, double time_ns, int default_form)
{
    int command = last_command(slot, before), form = command < 0 ? default_form : commands[command].form;
    double percent = percent_of(command, time_ns);
    if (form == 0)
        return (int)floor(percent * 255 / 100 + 0.5);
    int wide = (int)floor(percent * 65535 / 100 + 0.5);
    return form == 1 ? wide / 256 : wide % 256;
}

static double start_of(int command)
{
    const struct command *c = &commands[command];
    double time_ns = (double)c->at_ns;
    if (c->form == 0) {
        int last = last_command(c->slot, command);
        if (last < 0 || commands[last].form == 0)
            return percent_of(last, time_ns);
        return octet_of(c->slot, command, time_ns, 0) * 100.0 / 255;
    }
    int high = c->form == 1 ? c->slot : c->partner, low = c->form == 1 ? c->partner : c->slot;
    int before = c->form == 1 ? command : command - 1;       /* the low half is written down right after the high one */
    int last_high = last_command(high, before), last_low = last_command(low, before);
    bool wide = (last_high < 0 ? 1 : commands[last_high].form) == 1 && (last_low < 0 ? 2 : commands[last_low].form) == 2;
    if (wide && percent_of(last_high, time_ns) == percent_of(last_low, time_ns))
        return percent_of(last_high, time_ns);
    return (octet_of(high, before, time_ns, 1) * 256 + octet_of(low, before, time_ns, 2)) * 100.0 / 65535;
}

static void write_down(int64_t at_ns, int64_t duration_ns, double percent, int slot, int form, int partner)
{
    if (command_count < COMMANDS)
        commands[command_count++] = (struct command){ at_ns, duration_ns, percent, slot, form, partner };
}

/* One random command, to the engine and written down. */
static void random_command(struct rig *rig, int64_t at_ns, int slowest)
{
    uint32_t fixture = below(FIXTURES), cell = below(3) ? ENGINE_ALL_CELLS : below(2);
    const char *param = params[below(sizeof params / sizeof *params)];
    double percent = below(4) ? below(1001) / 10.0 : below(2) * 100.0;
    int64_t duration_ns = below(3) ? below((uint32_t)slowest) * MS : 0;
    if (below(10) == 0) {
        int slot = 1 + (int)below(25);
        if (engine_slot(rig->engine, at_ns, 1, slot, percent, &rig->why) == 0)
            write_down(at_ns, 0, percent, slot, 0, 0);
        return;
    }
    if (below(20) == 0) {
        if (engine_clear(rig->engine, at_ns, fixture, cell, &rig->why))
            return;
        param = NULL;
        percent = 0;
        duration_ns = 0;
    } else if (engine_fade(rig->engine, at_ns, fixture, cell, rig_param(rig, param), percent, duration_ns, &rig->why)) {
        return;
    }
    for (int v = 0; v < VALUES; v++) {
        const struct value *value = &values[v];
        if (value->owner != (int)fixture || (param && strcmp(value->param, param) != 0) ||
            (cell != ENGINE_ALL_CELLS && value->cell != (int)cell))
            continue;
        write_down(at_ns, duration_ns, percent, value->slot, value->fine ? 1 : 0, value->fine);
        if (value->fine)
            write_down(at_ns, duration_ns, percent, value->fine, 2, value->slot);
    }
}

/* Slots 12 and 13, 9 and 10 begin as what the spot or the bar makes of them: the later in the patch order, bar C, over 9..12. */
static int default_form(int slot)
{
    return slot == 13 ? 2 : 0;
}

static void levels_are_those_of_a_simple_engine(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 30; seed++) {
        struct rig rig;
        make_rig(&rig, false);
        random_state = seed;
        command_count = 0;
        for (int frame = 0; frame < FRAMES; frame++) {
            int64_t at_ns = frame == 0 ? 0 : (frame - 1) * 25 * MS + 2000;
            for (uint32_t n = below(6); n > 0 && frame > 0; n--, at_ns += below(5000000))    /* in order, as a script's are */
                random_command(&rig, at_ns, 900);
            rig_frames(&rig, 1);
            double time_ns = frame * 1e9 / RATE;
            int seen = command_count;
            while (seen > 0 && (double)commands[seen - 1].at_ns > time_ns + 1000)
                seen--;
            for (int slot = 1; slot < SLOTS; slot++)
                if (rig_level(&rig, 0, slot) != octet_of(slot, seen, time_ns, default_form(slot)))
                    fail_msg("seed %u frame %d slot %d: %d, expected %d", (unsigned)seed, frame, slot,
                             rig_level(&rig, 0, slot), octet_of(slot, seen, time_ns, default_form(slot)));
        }
        rig_fini(&rig);
    }
}

/* ---- the simple guard ---- */

struct light { double luminance, redness; bool saturated; };
static struct light history[LIGHTS][FRAMES + 1];     /* [0]: the defaults; [k + 1]: frame k */

static double fraction(const uint8_t *levels, int slot)
{
    return levels[slot - 1] / 255.0;
}

struct mix { double luminance, red, green, blue; };

static struct mix mixed(double intensity, double red, double green, double blue, double others)
{
    double sum = 0.2126 * red + 0.7152 * green + 0.0722 * blue + others;
    return (struct mix){ intensity * (sum < 1 ? sum : 1), intensity * red, intensity * green, intensity * blue };
}

static struct mix mean(const struct mix *of, int count)
{
    struct mix sum = { 0 };
    for (int i = 0; i < count; i++) {
        sum.luminance += of[i].luminance / count;
        sum.red += of[i].red / count;
        sum.green += of[i].green / count;
        sum.blue += of[i].blue / count;
    }
    return sum;
}

static struct light judged(struct mix m)
{
    double sum = m.red + m.green + m.blue, redness = m.red - m.green - m.blue;
    return (struct light){ m.luminance, redness > 0 ? redness : 0, sum > 0 && m.red >= 0.8 * sum - 1e-9 };
}

enum { A_CELL_1, A_CELL_2, A_MEAN, B_ONE, C_ONE, D_CELL_1, D_CELL_2, D_HEAD, D_MEAN, QUAY, NO_SITE, LIGHT_COUNT };

static void look_at(const uint8_t *levels, int at)
{
    struct mix lights[LIGHT_COUNT];
    for (int c = 0; c < 2; c++)
        lights[A_CELL_1 + c] = mixed(fraction(levels, 1 + 4 * c), fraction(levels, 2 + 4 * c), fraction(levels, 3 + 4 * c),
                                     fraction(levels, 4 + 4 * c), 0);
    lights[A_MEAN] = mean(&lights[A_CELL_1], 2);
    lights[B_ONE] = mixed(fraction(levels, 11), (levels[11] * 256 + levels[12]) / 65535.0, 0, 0,
                          0.6 * fraction(levels, 14) + 0.7 * fraction(levels, 15) + fraction(levels, 16));
    lights[C_ONE] = mixed(fraction(levels, 9), fraction(levels, 10), fraction(levels, 11), fraction(levels, 12), 0);
    for (int c = 0; c < 2; c++)
        lights[D_CELL_1 + c] = mixed(fraction(levels, 20), 0, fraction(levels, 22 + c), 0, 0);
    lights[D_HEAD] = mixed(fraction(levels, 20), fraction(levels, 21), 0, 0, fraction(levels, 24));
    lights[D_MEAN] = mean(&lights[D_CELL_1], 3);
    struct mix quay[] = { lights[A_MEAN], lights[B_ONE], lights[D_MEAN] };
    lights[QUAY] = mean(quay, 3);
    lights[NO_SITE] = lights[C_ONE];
    for (int l = 0; l < LIGHT_COUNT; l++)
        history[l][at] = judged(lights[l]);
}

/* Find all transitions of a light in history[0..last] and say whether eight that count fall within a second. */
static bool flashes(int light, int last, bool red)
{
    const double step = red ? 20.0 / 320 + 1e-9 : 0.1 - 1e-9;
    double high = -1, low = 2, dates[FRAMES];
    bool high_marked = false, low_marked = false, counted = false;
    int direction = 0, count = 0, date = 0;
    for (int i = 0; i <= last; i++) {
        double value = red ? history[light][i].redness : history[light][i].luminance;
        bool marked = red ? history[light][i].saturated : value < 0.8 - 1e-9;
        int was = direction;
        if (direction >= 0 && value >= high - 1e-14) {       /* the peak moves on */
            high_marked = marked || (fabs(value - high) < 1e-14 && high_marked);
            high = value > high ? value : high;
        }
        if (direction <= 0 && value <= low + 1e-14) {        /* the valley moves on */
            low_marked = marked || (fabs(value - low) < 1e-14 && low_marked);
            low = value < low ? value : low;
        }
        if (direction >= 0 && high - value >= step) {
            direction = -1;
            low = value;
            low_marked = marked;
        } else if (direction <= 0 && value - low >= step) {
            direction = 1;
            high = value;
            high_marked = marked;
        }
        if (direction != was) {
            counted = false;
            date = i - 1;
        }
        if (direction && !counted && (high_marked || low_marked)) {
            counted = true;
            dates[count++] = date;
        }
    }
    for (int i = 7; i < count; i++)
        if (dates[i] - dates[i - 7] < RATE)
            return true;
    return false;
}

static void the_guard_refuses_what_a_simple_guard_refuses(void **state)
{
    (void)state;
    int refusals[2] = { 0 }, of[3] = { 0 }, passed = 0;
    for (uint64_t seed = 1; seed <= 400; seed++) {
        struct rig rig;
        uint32_t count;
        make_rig(&rig, true);
        struct rig free_rig;                         /* the same without a guard says what would have been sent */
        make_rig(&free_rig, false);
        random_state = seed;
        look_at(engine_universes(rig.engine, &count)->levels, 0);
        uint32_t pace = 1 + below(12), slowest = 1 + below(400);
        bool over = false;
        for (int frame = 0; frame < FRAMES && !over; frame++) {
            for (uint32_t n = below(pace) ? 0 : 1 + below(20); n > 0; n--) {
                uint64_t before = random_state;
                random_command(&rig, frame * 25 * MS, (int)slowest);
                random_state = before;
                random_command(&free_rig, frame * 25 * MS, (int)slowest);
            }
            bool refused = engine_next_frame(rig.engine) == ENGINE_FRAME_REFUSED;
            assert_int_equal(engine_next_frame(free_rig.engine), ENGINE_FRAME_SENT);
            look_at(engine_universes(free_rig.engine, &count)->levels, frame + 1);
            bool expected = false;
            for (int l = 0; l < LIGHT_COUNT; l++)
                for (int red = 0; red < 2; red++)
                    expected |= flashes(l, frame + 1, red);
            if (refused != expected)
                fail_msg("seed %u frame %d: %s", (unsigned)seed, frame, refused ? "refused" : "sent");
            over = refused;
            if (refused) {
                refusals[engine_violation(rig.engine)->kind]++;
                of[engine_violation(rig.engine)->of]++;
            }
        }
        passed += !over;
        rig_fini(&rig);
        rig_fini(&free_rig);
    }
    /* the streams reach what they are to compare */
    assert_true(refusals[VIOLATION_GENERAL_FLASH] > 20 && refusals[VIOLATION_RED_FLASH] > 5 && passed > 20);
    assert_true(of[VIOLATION_CELL] > 5 && of[VIOLATION_FIXTURE] > 5 && of[VIOLATION_SITE] > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(levels_are_those_of_a_simple_engine),
        cmocka_unit_test(the_guard_refuses_what_a_simple_guard_refuses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
