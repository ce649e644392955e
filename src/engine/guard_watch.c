/* What the guard looks at: the light of every cell, of every fixture's mean, and of every site's mean, from the octets of a frame
 * as it would be sent. A fixture none of whose octets changed is left alone. */
#include <stdlib.h>
#include <string.h>

#include "engine_internal.h"

#define MEAN_ONE 1099511627776.0     /* 2^40: sums of whole numbers do not drift however long a run is */

/* Linear, 0..1; the primaries are times intensity. */
struct light { double luminance, red, green, blue; };

static inline double fraction(const uint8_t *octets, const struct light_term *term)
{
    if (term->fine < 0)
        return octets[term->coarse] / 255.0;
    return (octets[term->coarse] * 256 + octets[term->fine]) / 65535.0;
}

static void put_sample(const struct guard_samples *samples, uint32_t i, const struct light *light)
{
    samples->luminance[i] = light->luminance;
    samples->redness[i] = guard_redness(light->red, light->green, light->blue);
    samples->saturated[i] = guard_saturated(light->red, light->green, light->blue);
}

static struct light emitter_light(const struct emitter *emitter, double intensity, const uint8_t *octets)
{
    struct light light = { 0 };
    for (uint32_t i = 0; i < emitter->intensity_count; i++)
        intensity *= fraction(octets, &emitter->intensities[i]);
    for (uint32_t i = 0; i < emitter->colour_count; i++) {
        const struct light_term *term = &emitter->colours[i];
        double level = fraction(octets, term);
        light.luminance += level * term->luminance;
        light.red += level * term->red;
        light.green += level * term->green;
        light.blue += level * term->blue;
    }
    if (!emitter->colour_count || light.luminance > 1)
        light.luminance = 1;
    return (struct light){ intensity * light.luminance, intensity * light.red, intensity * light.green,
                           intensity * light.blue };
}

/* The samples of every emitter. @return the sum of their light */
static struct light general_samples(const struct layout *layout, double intensity, const uint8_t *octets,
                                    const struct guard_samples *samples)
{
    struct light sum = { 0 };
    for (uint32_t e = 0; e < layout->emitter_count; e++) {
        struct light light = emitter_light(&layout->emitters[e], intensity, octets);
        put_sample(samples, e, &light);
        sum.luminance += light.luminance;
        sum.red += light.red;
        sum.green += light.green;
        sum.blue += light.blue;
    }
    return sum;
}

/* The same in whole numbers, for layouts that allow it: luminance in 1 / (10,000 x 255 x 255), primaries in 1 / (255 x 255). */
static struct light quick_samples(const struct layout *layout, double intensity, const uint8_t *octets,
                                  const struct guard_samples *samples)
{
    const double one = intensity / (255.0 * 255.0), luminance_one = intensity / (2550000.0 * 255.0);
    int64_t luminances = 0;
    int reds = 0, greens = 0, blues = 0;
    uint8_t padded[SHOW_SLOTS + 2];
    memcpy(padded, octets, layout->footprint);
    padded[LIGHT_ZERO] = 0;
    padded[LIGHT_FULL] = 255;
    for (uint32_t e = 0; e < layout->emitter_count; e++) {
        const struct quick_emitter *quick = &layout->quick[e];
        int red = padded[quick->red], green = padded[quick->green], blue = padded[quick->blue],
            level = padded[quick->intensity];
        int luminance = 2126 * red + 7152 * green + 722 * blue + 10000 * padded[quick->white], excess = red - green - blue;
        luminance = level * (luminance < 2550000 ? luminance : 2550000);
        luminances += luminance;
        reds += level * red;
        greens += level * green;
        blues += level * blue;
        samples->luminance[e] = luminance * luminance_one;
        samples->redness[e] = level * (excess > 0 ? excess : 0) * one;
        samples->saturated[e] = (level * red > 0) & (red >= 4 * (green + blue));
    }
    return (struct light){ (double)luminances * luminance_one, reds * one, greens * one, blues * one };
}

/* The samples of a fixture's emitters and, behind them, of their mean. @return the mean */
static struct light fixture_samples(const struct layout *layout, const uint8_t *octets, const struct guard_samples *samples)
{
    double intensity = 1, share = layout->emitter_count;
    for (uint32_t i = 0; i < layout->intensity_count; i++)
        intensity *= fraction(octets, &layout->intensities[i]);
    struct light sum = layout->quick ? quick_samples(layout, intensity, octets, samples)
                                     : general_samples(layout, intensity, octets, samples);
    struct light mean = { sum.luminance / share, sum.red / share, sum.green / share, sum.blue / share };
    put_sample(samples, layout->emitter_count, &mean);
    return mean;
}

static uint32_t light_count(const struct layout *layout)
{
    return layout->emitter_count > 1 ? layout->emitter_count + 1 : layout->emitter_count;
}

static void to_mean(const struct light *light, int64_t mean[4])
{
    mean[0] = (int64_t)(light->luminance * MEAN_ONE);
    mean[1] = (int64_t)(light->red * MEAN_ONE);
    mean[2] = (int64_t)(light->green * MEAN_ONE);
    mean[3] = (int64_t)(light->blue * MEAN_ONE);
}

static void site_sample(const struct engine *engine, const struct site_mean *site)
{
    double share = MEAN_ONE * site->fixtures;
    struct light light = { (double)site->sums[0] / share, (double)site->sums[1] / share, (double)site->sums[2] / share,
                           (double)site->sums[3] / share };
    put_sample(&engine->samples, 0, &light);
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
    struct light mean = fixture_samples(patched->layout, engine->levels + patched->slot, &engine->samples);
    guard_start(engine->guard, patched->first_light, light_count(patched->layout), &engine->samples);
    if (patched->site == SHOW_UNKNOWN)
        return;
    to_mean(&mean, engine->means[index]);
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
    engine->samples.luminance = calloc(SHOW_SLOTS + 2, sizeof *engine->samples.luminance);
    engine->samples.redness = calloc(SHOW_SLOTS + 2, sizeof *engine->samples.redness);
    engine->samples.saturated = calloc(SHOW_SLOTS + 2, sizeof *engine->samples.saturated);
    engine->means = calloc((size_t)engine->patched_count + 1, sizeof *engine->means);
    if (!engine->guard || !engine->samples.luminance || !engine->samples.redness || !engine->samples.saturated ||
        !engine->means)
        return rig_fail(why, RIG_ENOMEM, "out of memory for the guard");
    for (uint32_t i = 0; i < engine->patched_count; i++)
        if (engine->patched[i].layout->emitter_count)
            start_fixture(engine, i);
    for (uint32_t s = 0; s < engine->site_count; s++) {
        site_sample(engine, &engine->sites[s]);
        guard_start(engine->guard, engine->sites[s].light, 1, &engine->samples);
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
    struct light light = fixture_samples(layout, engine->next + patched->slot, &engine->samples);
    uint32_t bad = guard_feed(engine->guard, patched->first_light, count, (uint32_t)engine->frame, &engine->samples, &kind);
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
    to_mean(&light, mean);
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
    if (!site->touched)
        return true;
    site->touched = false;
    site_sample(engine, site);
    if (guard_feed(engine->guard, site->light, 1, (uint32_t)engine->frame, &engine->samples, &kind) == 1)
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
