/* What the guard looks at: the light of every cell, of every fixture's mean, and of every site's mean, from the octets of a frame
 * as it would be sent. A fixture none of whose octets changed is left alone. */
#include <stdlib.h>
#include <string.h>

#include "engine_internal.h"

#define MEAN_ONE 1099511627776.0     /* 2^40: sums of whole numbers do not drift however long a run is */

static inline double fraction(const uint8_t *octets, const struct light_term *term)
{
    if (term->fine < 0)
        return octets[term->coarse] / 255.0;
    return (octets[term->coarse] * 256 + octets[term->fine]) / 65535.0;
}

static void emitter_light(const struct emitter *emitter, const uint8_t *octets, struct guard_light *light)
{
    double intensity = 1, luminance = 0, red = 0, green = 0, blue = 0;
    for (uint32_t i = 0; i < emitter->intensity_count; i++)
        intensity *= fraction(octets, &emitter->intensities[i]);
    for (uint32_t i = 0; i < emitter->colour_count; i++) {
        const struct light_term *term = &emitter->colours[i];
        double level = fraction(octets, term);
        luminance += level * term->luminance;
        red += level * term->red;
        green += level * term->green;
        blue += level * term->blue;
    }
    if (!emitter->colour_count)
        luminance = 1;
    light->luminance = intensity * (luminance < 1 ? luminance : 1);
    light->red = intensity * red;
    light->green = intensity * green;
    light->blue = intensity * blue;
}

/* The light of every emitter, then the mean of all. */
static void fixture_light(const struct layout *layout, const uint8_t *octets, struct guard_light *samples)
{
    struct guard_light sum = { 0 };
    for (uint32_t e = 0; e < layout->emitter_count; e++) {
        emitter_light(&layout->emitters[e], octets, &samples[e]);
        sum.luminance += samples[e].luminance;
        sum.red += samples[e].red;
        sum.green += samples[e].green;
        sum.blue += samples[e].blue;
    }
    double share = layout->emitter_count;
    samples[layout->emitter_count] = (struct guard_light){ sum.luminance / share, sum.red / share, sum.green / share, sum.blue / share };
}

static uint32_t light_count(const struct layout *layout)
{
    return layout->emitter_count > 1 ? layout->emitter_count + 1 : layout->emitter_count;
}

static void to_mean(const struct guard_light *light, int64_t mean[4])
{
    mean[0] = (int64_t)(light->luminance * MEAN_ONE);
    mean[1] = (int64_t)(light->red * MEAN_ONE);
    mean[2] = (int64_t)(light->green * MEAN_ONE);
    mean[3] = (int64_t)(light->blue * MEAN_ONE);
}

static struct guard_light site_light(const struct site_mean *site)
{
    double share = MEAN_ONE * site->fixtures;
    return (struct guard_light){ (double)site->sums[0] / share, (double)site->sums[1] / share, (double)site->sums[2] / share,
                                 (double)site->sums[3] / share };
}

/* Fixtures without a site are taken together as one. */
static int make_sites(struct engine *engine)
{
    uint32_t count = engine->show->site_count;
    uint32_t *place = malloc(((size_t)count + 1) * sizeof *place);
    engine->sites = calloc((size_t)count + 1, sizeof *engine->sites);
    if (!place || !engine->sites) {
        free(place);
        return RIG_ENOMEM;
    }
    memset(place, 0xff, ((size_t)count + 1) * sizeof *place);
    for (uint32_t i = 0; i < engine->patched_count; i++) {
        struct patched *patched = &engine->patched[i];
        patched->site = SHOW_UNKNOWN;
        if (!patched->granted || !patched->layout->emitter_count)
            continue;
        uint32_t site = engine->show->fixtures[patched->fixture].site_index;
        uint32_t *at = &place[site < count ? site : count];
        if (*at == SHOW_UNKNOWN) {
            *at = engine->site_count++;
            engine->sites[*at].site = site < count ? site : SHOW_UNKNOWN;
        }
        patched->site = *at;
        engine->sites[*at].fixtures++;
    }
    free(place);
    return 0;
}

static void start_fixture(struct engine *engine, uint32_t index)
{
    struct patched *patched = &engine->patched[index];
    fixture_light(patched->layout, engine->levels + patched->slot, engine->samples);
    for (uint32_t i = 0; i < light_count(patched->layout); i++)
        guard_start(engine->guard, patched->first_light + i, &engine->samples[i]);
    if (patched->site == SHOW_UNKNOWN)
        return;
    to_mean(&engine->samples[patched->layout->emitter_count], engine->means[index]);
    for (int m = 0; m < 4; m++)
        engine->sites[patched->site].sums[m] += engine->means[index][m];
}

int watch_make(struct engine *engine, struct rig_why *why)
{
    uint64_t lights = 0;
    for (uint32_t i = 0; i < engine->patched_count; i++) {
        engine->patched[i].first_light = (uint32_t)lights;
        lights += light_count(engine->patched[i].layout);
        if (lights > ENGINE_LIGHTS)
            return rig_fail(why, RIG_EINPUT, "more than %u cells to guard in one run: give it fewer fixtures", ENGINE_LIGHTS);
    }
    if (make_sites(engine))
        return rig_fail(why, RIG_ENOMEM, "out of memory for the guard");
    for (uint32_t s = 0; s < engine->site_count; s++)
        engine->sites[s].light = (uint32_t)lights++;
    engine->guard = guard_new((uint32_t)lights, engine->rate_hz);
    engine->samples = calloc(SHOW_SLOTS + 2, sizeof *engine->samples);
    engine->means = calloc((size_t)engine->patched_count + 1, sizeof *engine->means);
    if (!engine->guard || !engine->samples || !engine->means)
        return rig_fail(why, RIG_ENOMEM, "out of memory for the guard");
    for (uint32_t i = 0; i < engine->patched_count; i++)
        if (engine->patched[i].layout->emitter_count)
            start_fixture(engine, i);
    for (uint32_t s = 0; s < engine->site_count; s++) {
        struct guard_light light = site_light(&engine->sites[s]);
        guard_start(engine->guard, engine->sites[s].light, &light);
    }
    return 0;
}

static bool refuse(struct engine *engine, uint32_t light, enum guard_kind kind, struct engine_violation violation)
{
    uint32_t from, to;
    guard_window(engine->guard, light, kind, &from, &to);
    violation.kind = kind == GUARD_RED ? VIOLATION_RED_FLASH : VIOLATION_GENERAL_FLASH;
    violation.count = GUARD_FLASHES + 1;
    violation.from_s = from / engine->rate_hz;
    violation.to_s = to / engine->rate_hz;
    engine->violation = violation;
    return false;
}

static bool watch_fixture(struct engine *engine, uint32_t index)
{
    struct patched *patched = &engine->patched[index];
    const struct layout *layout = patched->layout;
    uint32_t count = light_count(layout);
    enum guard_kind kind;
    if (!count || memcmp(engine->next + patched->slot, engine->levels + patched->slot, layout->footprint) == 0)
        return true;
    fixture_light(layout, engine->next + patched->slot, engine->samples);
    uint32_t bad = guard_feed(engine->guard, patched->first_light, count, (uint32_t)engine->frame, engine->samples, &kind);
    if (bad < count) {
        struct engine_violation violation = { .of = VIOLATION_FIXTURE, .fixture = patched->fixture, .cell = ENGINE_ALL_CELLS,
                                              .site = SHOW_UNKNOWN };
        if (bad < layout->emitter_count && layout->emitters[bad].cell != ENGINE_ALL_CELLS) {
            violation.of = VIOLATION_CELL;
            violation.cell = layout->emitters[bad].cell;
        }
        engine->violation_mean = bad == layout->emitter_count;
        return refuse(engine, patched->first_light + bad, kind, violation);
    }
    if (patched->site == SHOW_UNKNOWN)
        return true;
    struct site_mean *site = &engine->sites[patched->site];
    int64_t mean[4];
    to_mean(&engine->samples[layout->emitter_count], mean);
    for (int m = 0; m < 4; m++) {
        site->sums[m] += mean[m] - engine->means[index][m];
        engine->means[index][m] = mean[m];
    }
    site->touched = true;
    return true;
}

static bool watch_site(struct engine *engine, struct site_mean *site)
{
    enum guard_kind kind;
    struct guard_light light = site_light(site);
    if (!site->touched)
        return true;
    site->touched = false;
    if (guard_feed(engine->guard, site->light, 1, (uint32_t)engine->frame, &light, &kind) == 1)
        return true;
    return refuse(engine, site->light, kind, (struct engine_violation){ .of = VIOLATION_SITE, .fixture = SHOW_UNKNOWN,
                                                                        .cell = ENGINE_ALL_CELLS, .site = site->site });
}

bool watch_frame(struct engine *engine)
{
    for (uint32_t u = 0; u < engine->universe_count; u++) {
        const struct sent_universe *sent = &engine->sent[u];
        for (uint32_t i = 0; engine->universes[u].changed && i < sent->patched_count; i++)
            if (!watch_fixture(engine, sent->first_patched + i))
                return false;
    }
    for (uint32_t s = 0; s < engine->site_count; s++)
        if (!watch_site(engine, &engine->sites[s]))
            return false;
    return true;
}
