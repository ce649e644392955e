/* From a show to an engine: the universes that are sent, the fixtures in them, their defaults and their locks. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "engine_internal.h"

#define NAME_SIZE 160

static int no_memory(struct rig_why *why)
{
    return rig_fail(why, RIG_ENOMEM, "out of memory for the engine");
}

static bool is_patched(const struct fixture *fixture)
{
    return fixture->universe != SHOW_NONE && fixture->address != SHOW_NONE;
}

/* ---- the grant ---- */

static int check_granted(const struct show *show, uint32_t index, struct rig_why *why)
{
    const struct fixture *fixture = &show->fixtures[index];
    char name[NAME_SIZE];
    show_describe(show, SUBJECT_FIXTURE, index, name, sizeof name);
    if (show_find_fixture(show, fixture->id) != index)
        return rig_fail(why, RIG_EINPUT, "%s: two fixtures have this id", name);
    if (!fixture_mode(show, fixture))
        return rig_fail(why, RIG_EINPUT, "%s: type %s mode %s does not exist", name, fixture->type ? fixture->type : "-",
                        fixture->mode ? fixture->mode : "-");
    int64_t last = fixture_last(show, fixture);
    if (fixture->address < 1 || last > SHOW_SLOTS)
        return rig_fail(why, RIG_EINPUT, "%s: slots %" PRId64 "..%" PRId64 ", expected 1..%d", name, fixture->address, last,
                        SHOW_SLOTS);
    return 0;
}

static int take_grant(struct engine *engine, const struct engine_options *options, struct rig_why *why)
{
    const struct show *show = engine->show;
    int err;
    engine->granted = calloc((size_t)show->fixture_count + 1, sizeof *engine->granted);
    engine->patched_of = malloc(((size_t)show->fixture_count + 1) * sizeof *engine->patched_of);
    if (!engine->granted || !engine->patched_of)
        return no_memory(why);
    memset(engine->patched_of, 0xff, (size_t)show->fixture_count * sizeof *engine->patched_of);
    for (uint32_t i = 0; i < options->fixture_count; i++) {
        uint32_t index = options->fixtures[i];
        if (index >= show->fixture_count)
            return rig_fail(why, RIG_EUSAGE, "fixture index %u: the show has %u fixtures", index, show->fixture_count);
        if (is_patched(&show->fixtures[index]) && (err = check_granted(show, index, why)))
            return err;
        engine->granted[index] = true;
    }
    return 0;
}

/* ---- universes ---- */

static int add_universe(struct engine *engine, int64_t id, struct rig_why *why)
{
    const struct show *show = engine->show;
    uint32_t index = show_find_universe(show, id);
    struct universe absent = { .id = id, .priority = SHOW_NONE, .wire = SHOW_NONE };
    const struct universe *universe = index == SHOW_UNKNOWN ? &absent : &show->universes[index];
    int64_t wire = universe_wire(universe), priority = universe_priority(universe);
    if (wire < SACN_FIRST_UNIVERSE || wire > SACN_LAST_UNIVERSE)
        return rig_fail(why, RIG_EINPUT, "universe %" PRId64 ": wire number %" PRId64 ", expected %d..%d", id, wire,
                        SACN_FIRST_UNIVERSE, SACN_LAST_UNIVERSE);
    if (priority < 0 || priority > SACN_PRIORITY_LIMIT)
        return rig_fail(why, RIG_EINPUT, "universe %" PRId64 ": priority %" PRId64 ", expected 0..%d", id, priority,
                        SACN_PRIORITY_LIMIT);
    struct engine_universe *to = &engine->universes[engine->universe_count++];
    *to = (struct engine_universe){ .id = id, .wire = (uint16_t)wire, .priority = (uint8_t)priority };
    uint32_t carriers;
    const struct carrier *carrier = show_carriers(show, id, &carriers);
    for (uint32_t c = 0; c < carriers; c++) {
        const struct transmitter *transmitter = &show->transmitters[carrier[c].transmitter];
        if (!transmitter->spare && transmitter->input == INPUT_UNICAST && transmitter->host && !to->host)
            to->host = transmitter->host;
    }
    return 0;
}

static int by_wire(const void *a, const void *b)
{
    const struct engine_universe *left = a, *right = b;
    return (left->wire > right->wire) - (left->wire < right->wire);
}

static int by_id(const void *a, const void *b, void *engine)
{
    const struct engine_universe *universes = ((const struct engine *)engine)->universes;
    int64_t left = universes[*(const uint32_t *)a].id, right = universes[*(const uint32_t *)b].id;
    return (left > right) - (left < right);
}

static int make_universes(struct engine *engine, struct rig_why *why)
{
    const struct show *show = engine->show;
    const uint32_t *order = show_patch_order(show);
    uint32_t most = 0;
    int err;
    for (uint32_t i = 0; i < show->fixture_count; i++)
        most += engine->granted[i] && is_patched(&show->fixtures[i]);
    engine->universes = calloc((size_t)most + 1, sizeof *engine->universes);
    engine->sent = calloc((size_t)most + 1, sizeof *engine->sent);
    engine->by_id = calloc((size_t)most + 1, sizeof *engine->by_id);
    if (!engine->universes || !engine->sent || !engine->by_id)
        return no_memory(why);
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        const struct fixture *fixture = &show->fixtures[order[i]];
        if (!engine->granted[order[i]] || !is_patched(fixture) ||
            (engine->universe_count && engine->universes[engine->universe_count - 1].id == fixture->universe))
            continue;
        if ((err = add_universe(engine, fixture->universe, why)))
            return err;
    }
    qsort(engine->universes, engine->universe_count, sizeof *engine->universes, by_wire);
    for (uint32_t u = 0; u < engine->universe_count; u++) {
        if (u && engine->universes[u - 1].wire == engine->universes[u].wire)
            return rig_fail(why, RIG_EINPUT, "universes %" PRId64 " and %" PRId64 " both have wire number %u",
                            engine->universes[u - 1].id, engine->universes[u].id, engine->universes[u].wire);
        engine->by_id[u] = u;
    }
    qsort_r(engine->by_id, engine->universe_count, sizeof *engine->by_id, by_id, engine);
    return 0;
}

/* ---- fixtures ---- */

static int layout_of(struct engine *engine, const struct fixture *fixture, struct layout **out)
{
    struct layout **place = &engine->layouts[engine->mode_first[fixture->type_index] + fixture->mode_index];
    if (!*place) {
        *place = calloc(1, sizeof **place);
        if (!*place)
            return RIG_ENOMEM;
        int err = layout_make(engine->show, fixture_mode(engine->show, fixture), *place);
        if (err)
            return err;
    }
    *out = *place;
    return 0;
}

static int make_layout_table(struct engine *engine)
{
    const struct show *show = engine->show;
    engine->mode_first = calloc((size_t)show->type_count + 1, sizeof *engine->mode_first);
    engine->strobe = calloc((size_t)show->param_count + 1, sizeof *engine->strobe);
    if (!engine->mode_first || !engine->strobe)
        return RIG_ENOMEM;
    for (uint32_t t = 0; t < show->type_count; t++) {
        engine->mode_first[t] = engine->mode_total;
        engine->mode_total += show->types[t].mode_count;
    }
    for (uint32_t p = 0; p < show->param_count; p++)
        engine->strobe[p] = layout_is_strobe(show->params[p]);
    engine->layouts = calloc((size_t)engine->mode_total + 1, sizeof(*engine->layouts));
    return engine->layouts ? 0 : RIG_ENOMEM;
}

/* Fixtures that were not granted stay at their defaults, hold their hazards and are watched by the guard; those whose patch does
 * not fit their universe cannot be. */
static bool takes_part(const struct engine *engine, uint32_t index)
{
    const struct fixture *fixture = &engine->show->fixtures[index];
    int64_t footprint = fixture_footprint(engine->show, fixture);
    return engine->granted[index] ? footprint > 0
                                  : footprint > 0 && footprint <= SHOW_SLOTS && fixture->address >= 1 &&
                                        fixture_last(engine->show, fixture) <= SHOW_SLOTS;
}

static bool is_armed(const struct engine_options *options, uint32_t fixture)
{
    for (uint32_t i = 0; i < options->armed_count; i++)
        if (options->armed[i] == fixture)
            return true;
    return false;
}

static int make_patched(struct engine *engine, const struct engine_options *options)
{
    const struct show *show = engine->show;
    uint32_t most = 0, count;
    for (uint32_t u = 0; u < engine->universe_count; u++) {
        show_universe_fixtures(show, engine->universes[u].id, &count);
        most += count;
    }
    engine->patched = calloc((size_t)most + 1, sizeof *engine->patched);
    if (!engine->patched)
        return RIG_ENOMEM;
    for (uint32_t u = 0; u < engine->universe_count; u++) {
        const uint32_t *fixtures = show_universe_fixtures(show, engine->universes[u].id, &count);
        engine->sent[u].first_patched = engine->patched_count;
        for (uint32_t i = 0; i < count; i++) {
            const struct fixture *fixture = &show->fixtures[fixtures[i]];
            if (!is_patched(fixture) || !takes_part(engine, fixtures[i]))
                continue;
            struct patched *to = &engine->patched[engine->patched_count];
            to->fixture = fixtures[i];
            to->slot = u * SHOW_SLOTS + (uint32_t)fixture->address - 1;
            to->granted = engine->granted[fixtures[i]];
            to->hazard = fixture_type(show, fixture)->hazard != HAZARD_NONE && !is_armed(options, fixtures[i]);
            int err = layout_of(engine, fixture, &to->layout);
            if (err)
                return err;
            if (to->granted)
                engine->patched_of[fixtures[i]] = engine->patched_count;
            engine->patched_count++;
        }
        engine->sent[u].patched_count = engine->patched_count - engine->sent[u].first_patched;
    }
    return 0;
}

/* ---- defaults and locks ---- */

static void init_value(struct engine *engine, const struct patched *patched, uint32_t start, const struct value *value)
{
    bool strobe = value->param != ENGINE_NO_PARAM && engine->strobe[value->param] && !engine->allow_flash;
    uint32_t slots[2] = { start + (uint32_t)value->coarse, start + (uint32_t)value->fine };
    for (int i = 0; i < (value->fine < 0 ? 1 : 2); i++) {
        struct slot_state *slot = &engine->slots[slots[i]];
        if (patched->granted)
            slot->flags |= SLOT_DRIVEN;
        if (strobe)
            slot->flags |= SLOT_STROBE;
        if (slot->flags & SLOT_HAZARD && !patched->hazard)
            continue;                            /* the one with the hazard says what the default is */
        if (patched->hazard)
            slot->flags |= SLOT_HAZARD;
        slot->form = (uint8_t)(value->fine < 0 ? FORM_8 : i == 0 ? FORM_HIGH : FORM_LOW);
        slot->percent = value->default_percent;
    }
}

static void init_section(struct engine *engine, const struct patched *patched, uint32_t start, const struct section *section)
{
    for (uint32_t v = 0; v < section->count; v++)
        init_value(engine, patched, start, &section->values[v]);
}

static int make_slots(struct engine *engine)
{
    size_t count = (size_t)engine->universe_count * SHOW_SLOTS;
    engine->slots = calloc(count + 1, sizeof *engine->slots);
    engine->defaults = calloc(count + 1, 1);
    engine->levels = calloc(count + 1, 1);
    engine->next = calloc(count + 1, 1);
    if (!engine->slots || !engine->defaults || !engine->levels || !engine->next)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < engine->patched_count; i++) {
        const struct patched *patched = &engine->patched[i];
        const struct layout *layout = patched->layout;
        init_section(engine, patched, patched->slot, &layout->head);
        for (uint32_t c = 0; c < layout->cells; c++)
            init_section(engine, patched, patched->slot + layout->head_size + c * layout->cell_size, &layout->cell);
        init_section(engine, patched, patched->slot + layout->tail_start, &layout->tail);
    }
    for (size_t i = 0; i < count; i++) {
        struct slot_state *slot = &engine->slots[i];
        if (slot->flags & SLOT_STROBE)
            slot->percent = 0;
        engine->defaults[i] = slot_level(slot->percent, (enum form)slot->form);
    }
    memcpy(engine->levels, engine->defaults, count);
    memcpy(engine->next, engine->defaults, count);
    for (uint32_t u = 0; u < engine->universe_count; u++)
        engine->universes[u].levels = engine->levels + (size_t)u * SHOW_SLOTS;
    return 0;
}

/* ---- the interface ---- */

int engine_new(const struct show *show, const struct engine_options *options, struct engine **out, struct rig_why *why)
{
    int err;
    *out = NULL;
    if (!(options->rate_hz >= ENGINE_RATE_LEAST && options->rate_hz <= ENGINE_RATE_MOST))
        return rig_fail(why, RIG_EUSAGE, "a rate of %g Hz: expected %g..%g", options->rate_hz, ENGINE_RATE_LEAST,
                        ENGINE_RATE_MOST);
    struct engine *engine = calloc(1, sizeof *engine);
    if (!engine)
        return no_memory(why);
    engine->show = show;
    engine->rate_hz = options->rate_hz;
    engine->allow_flash = options->allow_flash;
    if ((err = take_grant(engine, options, why)) || (err = make_universes(engine, why)))
        goto out;
    if ((err = make_layout_table(engine)) || (err = make_patched(engine, options)) || (err = make_slots(engine))) {
        no_memory(why);
        goto out;
    }
    if (!engine->allow_flash)
        err = watch_make(engine, why);
    if (!err) {
        *out = engine;
        engine = NULL;
    }
out:
    engine_free(engine);
    return err;
}

void engine_free(struct engine *engine)
{
    if (!engine)
        return;
    if (engine->slots)
        fades_drop(engine);
    for (uint32_t i = 0; i < engine->mode_total && engine->layouts; i++)
        layout_free(engine->layouts[i]);
    for (uint32_t i = 0; i < engine->notice_count; i++)
        free(engine->notices[i].text);
    guard_free(engine->guard);
    free(engine->universes);
    free(engine->sent);
    free(engine->by_id);
    free(engine->layouts);
    free(engine->mode_first);
    free(engine->patched);
    free(engine->patched_of);
    free(engine->granted);
    free(engine->strobe);
    free(engine->slots);
    free(engine->defaults);
    free(engine->levels);
    free(engine->next);
    free(engine->ahead);
    free(engine->samples.luminance);
    free(engine->samples.redness);
    free(engine->samples.saturated);
    free(engine->means);
    free(engine->sites);
    free(engine->notices);
    free(engine);
}
