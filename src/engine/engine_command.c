/* Commands: checked against the grant, then carried out at once or, when their frame is not the next one, kept until it is. */
#include <stdlib.h>
#include <string.h>

#include "engine_internal.h"

#define NAME_SIZE 160

static const char *fixture_name(const struct engine *engine, uint32_t fixture, char name[NAME_SIZE])
{
    show_describe(engine->show, SUBJECT_FIXTURE, fixture, name, NAME_SIZE);
    return name;
}

/* ---- carrying out ---- */

static void tell_locked(struct engine *engine, uint32_t slot, const struct patched *patched)
{
    bool *told = engine->slots[slot].flags & SLOT_HAZARD ? &engine->told_hazard : &engine->told_strobe;
    char name[NAME_SIZE];
    if (*told)
        return;
    *told = true;
    if (patched)
        fixture_name(engine, patched->fixture, name);
    else
        snprintf(name, sizeof name, "universe %lld slot %u", (long long)engine->universes[slot / SHOW_SLOTS].id,
                 slot % SHOW_SLOTS + 1);
    if (told == &engine->told_hazard)
        engine__notice(engine, NOTICE_TOLD,
                       "%s is not driven: a fixture with a hazard stays at its defaults until it is armed", name);
    else
        engine__notice(engine, NOTICE_TOLD, "%s: strobe and shutter slots are held at 0", name);
}

/* Nobody needs to hear of a slot that goes back to its default, or is asked for what it holds. */
static bool is_locked(struct engine *engine, uint32_t slot, enum form form, const struct patched *patched,
                      const struct command *command, double percent)
{
    if (!(engine->slots[slot].flags & (SLOT_HAZARD | SLOT_STROBE)))
        return false;
    if (command->kind != COMMAND_CLEAR && slot_level(percent, form) != engine->levels[slot])
        tell_locked(engine, slot, patched);
    return true;
}

static unsigned octet_at(const struct engine *engine, uint32_t slot, double time_ns)
{
    return slot_level(slot_percent(engine, slot, time_ns), (enum form)engine->slots[slot].form);
}

/* Where a fade of an octet starts: the octet may have been half of a 16-bit value until now. */
static double narrow_percent(const struct engine *engine, uint32_t slot, double time_ns)
{
    if (engine->slots[slot].form == FORM_8)
        return slot_percent(engine, slot, time_ns);
    return octet_at(engine, slot, time_ns) * 100.0 / 255;
}

/* Where a fade of a 16-bit value starts: its octets may have been driven apart. */
static double wide_percent(const struct engine *engine, uint32_t coarse, uint32_t fine, double time_ns)
{
    double high = slot_percent(engine, coarse, time_ns), low = slot_percent(engine, fine, time_ns);
    if (engine->slots[coarse].form == FORM_HIGH && engine->slots[fine].form == FORM_LOW && high == low)
        return high;
    return (octet_at(engine, coarse, time_ns) * 256 + octet_at(engine, fine, time_ns)) * 100.0 / 65535;
}

static int drive(struct engine *engine, const struct patched *patched, uint32_t slot, enum form form, double from,
                 const struct command *command, double percent)
{
    if (is_locked(engine, slot, form, patched, command, percent))
        return 0;
    if (command->duration_ns > 0)
        return slot_fade(engine, slot, form, from, percent, command->at_ns, command->duration_ns);
    slot_put(engine, slot, form, percent);
    return 0;
}

static int drive_value(struct engine *engine, const struct patched *patched, uint32_t start, const struct value *value,
                       const struct command *command, double percent)
{
    uint32_t coarse = start + (uint32_t)value->coarse, fine = start + (uint32_t)value->fine;
    double time_ns = (double)command->at_ns;
    if (value->fine < 0)
        return drive(engine, patched, coarse, FORM_8, narrow_percent(engine, coarse, time_ns), command, percent);
    double from = wide_percent(engine, coarse, fine, time_ns);
    int err = drive(engine, patched, coarse, FORM_HIGH, from, command, percent);
    return err ? err : drive(engine, patched, fine, FORM_LOW, from, command, percent);
}

static int drive_section(struct engine *engine, const struct patched *patched, uint32_t start, const struct section *section,
                         const struct command *command)
{
    int err = 0;
    for (uint32_t v = 0; v < section->count && !err; v++) {
        const struct value *value = &section->values[v];
        if (command->kind == COMMAND_CLEAR)
            err = drive_value(engine, patched, start, value, command, value->default_percent);
        else if (value->param == command->param)
            err = drive_value(engine, patched, start, value, command, command->percent);
    }
    return err;
}

static int carry_out(struct engine *engine, const struct command *command)
{
    if (command->kind == COMMAND_SLOT)
        return drive(engine, NULL, command->target, FORM_8, 0, command, command->percent);
    const struct patched *patched = &engine->patched[command->target];
    const struct layout *layout = patched->layout;
    bool all = command->cell == ENGINE_ALL_CELLS;
    int err = 0;
    if (all)
        err = drive_section(engine, patched, patched->slot, &layout->head, command);
    for (uint32_t c = all ? 0 : command->cell; c < (all ? layout->cells : command->cell + 1) && !err; c++)
        err = drive_section(engine, patched, patched->slot + layout->head_size + c * layout->cell_size, &layout->cell,
                            command);
    if (all && !err)
        err = drive_section(engine, patched, patched->slot + layout->tail_start, &layout->tail, command);
    return err;
}

/* ---- commands for later frames ---- */

static int commands_until(struct engine *engine, double time_ns)
{
    uint32_t done = 0;
    int err = 0;
    while (done < engine->ahead_count && (double)engine->ahead[done].at_ns <= time_ns && !err)
        err = carry_out(engine, &engine->ahead[done++]);
    engine->ahead_count -= done;
    if (done)
        memmove(engine->ahead, engine->ahead + done, engine->ahead_count * sizeof *engine->ahead);
    return err;
}

int commands_due(struct engine *engine, double time_ns)
{
    return commands_until(engine, time_ns + ENGINE_GRACE_NS);
}

static int keep(struct engine *engine, const struct command *command, struct rig_why *why)
{
    if (engine->ahead_count == ENGINE_AHEAD)
        return rig_fail(why, RIG_ESCRIPT, "%u commands wait for later frames already", ENGINE_AHEAD);
    if (engine->ahead_count == engine->ahead_room) {
        uint32_t room = engine->ahead_room ? engine->ahead_room * 2 : 64;
        struct command *ahead = realloc(engine->ahead, room * sizeof *ahead);
        if (!ahead)
            return rig_fail(why, RIG_ENOMEM, "out of memory for a command");
        engine->ahead = ahead;
        engine->ahead_room = room;
    }
    uint32_t at = engine->ahead_count++;
    for (; at > 0 && engine->ahead[at - 1].at_ns > command->at_ns; at--)
        engine->ahead[at] = engine->ahead[at - 1];
    engine->ahead[at] = *command;
    return 0;
}

static int submit(struct engine *engine, const struct command *command, struct rig_why *why)
{
    if (engine->ended || engine->failed)
        return 0;
    double at_ns = (double)command->at_ns;
    if (at_ns > engine_frame_time(engine, engine->frame) + ENGINE_GRACE_NS)
        return keep(engine, command, why);
    int err = commands_until(engine, at_ns);
    if (!err)
        err = carry_out(engine, command);
    if (err == RIG_ESCRIPT)
        return rig_fail(why, err, "more than %u fades of different starts or durations at a time", ENGINE_GROUPS);
    return err ? rig_fail(why, err, "out of memory for a fade") : 0;
}

/* ---- checking ---- */

static int check_time(int64_t at_ns, int64_t duration_ns, struct rig_why *why)
{
    const int64_t limit = (int64_t)(ENGINE_TIME_LIMIT_S * 1e9);
    if (at_ns < 0 || at_ns > limit)
        return rig_fail(why, RIG_ESCRIPT, "a command at %.3f s: expected 0..%.0f", (double)at_ns / 1e9, ENGINE_TIME_LIMIT_S);
    if (duration_ns < 0 || duration_ns > limit)
        return rig_fail(why, RIG_ESCRIPT, "a fade of %.3f s: expected 0..%.0f", (double)duration_ns / 1e9,
                        ENGINE_TIME_LIMIT_S);
    return 0;
}

static int check_percent(double percent, struct rig_why *why)
{
    if (percent >= 0 && percent <= 100)      /* false for NaN */
        return 0;
    return rig_fail(why, RIG_ESCRIPT, "a level of %g: expected 0..100", percent);
}

/* *place is SHOW_UNKNOWN when the fixture is not patched, and then nothing is to be done. */
static int check_fixture(struct engine *engine, uint32_t fixture, uint32_t cell, uint32_t *place, struct rig_why *why)
{
    char name[NAME_SIZE];
    *place = SHOW_UNKNOWN;
    if (fixture >= engine->show->fixture_count)
        return rig_fail(why, RIG_ESCRIPT, "fixture index %u: the show has %u fixtures", fixture, engine->show->fixture_count);
    if (!engine->granted[fixture])
        return rig_fail(why, RIG_ESCRIPT, "%s was not given to this script", fixture_name(engine, fixture, name));
    *place = engine->patched_of[fixture];
    if (*place == SHOW_UNKNOWN) {
        if (!engine->told_unpatched)
            engine__notice(engine, NOTICE_TOLD, "%s is not patched: nothing is sent to it",
                           fixture_name(engine, fixture, name));
        engine->told_unpatched = true;
        return 0;
    }
    uint32_t cells = engine->patched[*place].layout->cells;
    if (cell != ENGINE_ALL_CELLS && cell >= cells)
        return rig_fail(why, RIG_ESCRIPT, "%s has no cell %lld: expected 1..%u", fixture_name(engine, fixture, name),
                        (long long)cell + 1, cells);
    return 0;
}

static bool section_has(const struct section *section, uint16_t param)
{
    for (uint32_t v = 0; v < section->count; v++)
        if (section->values[v].param == param)
            return true;
    return false;
}

static int check_param(const struct engine *engine, const struct patched *patched, uint32_t cell, uint16_t param,
                       struct rig_why *why)
{
    char name[NAME_SIZE];
    const struct layout *layout = patched->layout;
    if (param >= engine->show->param_count)
        return rig_fail(why, RIG_ESCRIPT, "parameter index %u: the show has %u parameters", param, engine->show->param_count);
    if ((layout->cells && section_has(&layout->cell, param)) ||
        (cell == ENGINE_ALL_CELLS && (section_has(&layout->head, param) || section_has(&layout->tail, param))))
        return 0;
    return rig_fail(why, RIG_ESCRIPT, "%s has no parameter %s%s", fixture_name(engine, patched->fixture, name),
                    engine->show->params[param], cell == ENGINE_ALL_CELLS ? "" : " in its cells");
}

/* ---- the interface ---- */

int engine_fade(struct engine *engine, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent,
                int64_t duration_ns, struct rig_why *why)
{
    uint32_t place;
    int err;
    if ((err = check_time(at_ns, duration_ns, why)) || (err = check_percent(percent, why)) ||
        (err = check_fixture(engine, fixture, cell, &place, why)) || place == SHOW_UNKNOWN ||
        (err = check_param(engine, &engine->patched[place], cell, param, why)))
        return err;
    struct command command = { COMMAND_FADE, param, place, cell, at_ns, duration_ns, percent };
    return submit(engine, &command, why);
}

int engine_set(struct engine *engine, int64_t at_ns, uint32_t fixture, uint32_t cell, uint16_t param, double percent,
               struct rig_why *why)
{
    return engine_fade(engine, at_ns, fixture, cell, param, percent, 0, why);
}

int engine_clear(struct engine *engine, int64_t at_ns, uint32_t fixture, uint32_t cell, struct rig_why *why)
{
    uint32_t place;
    int err;
    if ((err = check_time(at_ns, 0, why)) || (err = check_fixture(engine, fixture, cell, &place, why)) ||
        place == SHOW_UNKNOWN)
        return err;
    struct command command = { COMMAND_CLEAR, ENGINE_NO_PARAM, place, cell, at_ns, 0, 0 };
    return submit(engine, &command, why);
}

static uint32_t find_universe(const struct engine *engine, int64_t id)
{
    uint32_t low = 0, high = engine->universe_count;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        int64_t found = engine->universes[engine->by_id[middle]].id;
        if (found == id)
            return engine->by_id[middle];
        if (found < id)
            low = middle + 1;
        else
            high = middle;
    }
    return SHOW_UNKNOWN;
}

int engine_slot(struct engine *engine, int64_t at_ns, int64_t universe, int64_t slot, double percent, struct rig_why *why)
{
    int err;
    if ((err = check_time(at_ns, 0, why)) || (err = check_percent(percent, why)))
        return err;
    uint32_t place = find_universe(engine, universe);
    if (place == SHOW_UNKNOWN)
        return rig_fail(why, RIG_ESCRIPT, "universe %lld has no fixture that was given to this script", (long long)universe);
    if (slot < 1 || slot > SHOW_SLOTS)
        return rig_fail(why, RIG_ESCRIPT, "universe %lld slot %lld: expected 1..%d", (long long)universe, (long long)slot,
                        SHOW_SLOTS);
    uint32_t target = place * SHOW_SLOTS + (uint32_t)slot - 1;
    if (!(engine->slots[target].flags & SLOT_DRIVEN))
        return rig_fail(why, RIG_ESCRIPT,
                        "universe %lld slot %lld: no fixture that was given to this script is patched there",
                        (long long)universe, (long long)slot);
    struct command command = { COMMAND_SLOT, ENGINE_NO_PARAM, target, 0, at_ns, 0, percent };
    return submit(engine, &command, why);
}
