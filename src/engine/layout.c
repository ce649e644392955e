/* A mode's slots as values and as light. "+fine" makes one 16-bit value with the first coarse slot of its parameter in the same
 * section that has none yet; a fine slot without a coarse one stays at its default, because nothing says what it refines. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "engine_internal.h"

bool layout_is_strobe(const char *param)
{
    const struct parameter *known = parameter_find(param);
    return (known && known->role == ROLE_STROBE) || strncmp(param, "strobe", 6) == 0 || strncmp(param, "shutter", 7) == 0;
}

static double percent_of(const struct slot *slot)
{
    return isnan(slot->default_percent) ? 0 : slot->default_percent;
}

static int section_make(const struct slot *slots, uint32_t count, struct section *section)
{
    section->values = calloc(count ? count : 1, sizeof *section->values);
    if (!section->values)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < count; i++)
        if (!slots[i].fine)
            section->values[section->count++] = (struct value){ slots[i].param, (int16_t)i, -1, percent_of(&slots[i]) };
    uint32_t coarse_count = section->count;
    for (uint32_t i = 0; i < count; i++) {
        if (!slots[i].fine)
            continue;
        uint32_t v = 0;
        while (v < coarse_count && (section->values[v].param != slots[i].param || section->values[v].fine >= 0))
            v++;
        if (v < coarse_count)
            section->values[v].fine = (int16_t)i;
        else
            section->values[section->count++] = (struct value){ ENGINE_NO_PARAM, (int16_t)i, -1, percent_of(&slots[i]) };
    }
    return 0;
}

/* Weights of design section 8: IEC 61966-2-1 for the primaries; all others common practice, no source. Warm and cool white count
 * as white; the rarer emitters as the primaries they stand next to. */
static const struct { const char *name; double luminance, red, green, blue; } weights[] = {
    { "red", 0.2126, 1, 0, 0 }, { "green", 0.7152, 0, 1, 0 }, { "blue", 0.0722, 0, 0, 1 },
    { "white", 1, 0, 0, 0 }, { "warm_white", 1, 0, 0, 0 }, { "cool_white", 1, 0, 0, 0 },
    { "amber", 0.6, 0, 0, 0 }, { "lime", 0.7, 0, 0, 0 },
    { "cyan", 0.7152 + 0.0722, 0, 0, 0 }, { "indigo", 0.0722, 0, 0, 0 }, { "ultraviolet", 0.0722, 0, 0, 0 },
};

struct gather { struct light_term *intensities, *colours; uint32_t intensity_count, colour_count; };

static void gather(const struct show *show, const struct section *section, uint32_t start, struct gather *to)
{
    for (uint32_t v = 0; v < section->count; v++) {
        const struct value *value = &section->values[v];
        if (value->param == ENGINE_NO_PARAM)
            continue;
        const char *name = show->params[value->param];
        const struct parameter *known = parameter_find(name);
        struct light_term term = {
            (int16_t)(start + value->coarse), (int16_t)(value->fine < 0 ? -1 : (int)start + value->fine), 0, 0, 0, 0
        };
        if (known && known->role == ROLE_INTENSITY) {
            to->intensities[to->intensity_count++] = term;
            continue;
        }
        for (size_t w = 0; w < sizeof weights / sizeof *weights; w++)
            if (strcmp(weights[w].name, name) == 0) {
                term.luminance = weights[w].luminance;
                term.red = weights[w].red;
                term.green = weights[w].green;
                term.blue = weights[w].blue;
                to->colours[to->colour_count++] = term;
            }
    }
}

/* Light of a cell: intensity of the cell x intensity of head and tail x its own colours. The head's colours are those of cells
 * that have none; otherwise they are a light of their own. */
static int emitters_make(const struct show *show, struct layout *layout)
{
    uint32_t shared = layout->head.count + layout->tail.count, own = layout->cell.count;
    layout->emitters = calloc((size_t)layout->cells + 1, sizeof *layout->emitters);
    layout->terms = calloc(2 * ((size_t)shared + (size_t)layout->cells * own) + 1, sizeof *layout->terms);
    if (!layout->emitters || !layout->terms)
        return RIG_ENOMEM;
    struct gather rest = { .intensities = layout->terms, .colours = layout->terms + shared };
    gather(show, &layout->head, 0, &rest);
    gather(show, &layout->tail, layout->tail_start, &rest);
    layout->intensities = rest.intensities;
    layout->intensity_count = rest.intensity_count;
    struct light_term *free_terms = layout->terms + (size_t)2 * shared;
    bool cells_have_colours = false;
    for (uint32_t c = 0; c < layout->cells; c++) {
        struct gather cell = { .intensities = free_terms, .colours = free_terms + own };
        free_terms += (size_t)2 * own;
        gather(show, &layout->cell, layout->head_size + c * layout->cell_size, &cell);
        if (!cell.colour_count && !cell.intensity_count)
            break;                               /* cells of pan and tilt alone: the light is the head's */
        cells_have_colours = cell.colour_count > 0;
        const struct gather *colours = cells_have_colours ? &cell : &rest;
        layout->emitters[layout->emitter_count++] = (struct emitter){ cell.intensities, cell.intensity_count,
                                                                      colours->colours, colours->colour_count, c };
    }
    bool head_lights = layout->emitter_count == 0 ? rest.intensity_count || rest.colour_count
                                                  : cells_have_colours && rest.colour_count;
    if (head_lights)
        layout->emitters[layout->emitter_count++] = (struct emitter){ NULL, 0, rest.colours, rest.colour_count,
                                                                      ENGINE_ALL_CELLS };
    return 0;
}

/* @return false when the emitter is more than a quick one can say */
static bool quicken(const struct emitter *emitter, struct quick_emitter *quick)
{
    *quick = (struct quick_emitter){ LIGHT_FULL, LIGHT_ZERO, LIGHT_ZERO, LIGHT_ZERO, LIGHT_ZERO };
    if (emitter->intensity_count > 1 || (emitter->intensity_count && emitter->intensities[0].fine >= 0))
        return false;
    if (emitter->intensity_count)
        quick->intensity = (uint16_t)emitter->intensities[0].coarse;
    if (!emitter->colour_count)
        quick->white = LIGHT_FULL;
    for (uint32_t i = 0; i < emitter->colour_count; i++) {
        const struct light_term *term = &emitter->colours[i];
        uint16_t *to = &quick->white;
        if (term->red > 0)
            to = &quick->red;
        else if (term->green > 0)
            to = &quick->green;
        else if (term->blue > 0)
            to = &quick->blue;
        if (term->fine >= 0 || *to != LIGHT_ZERO || (to == &quick->white && term->luminance < 1))
            return false;
        *to = (uint16_t)term->coarse;
    }
    return true;
}

static int quick_make(struct layout *layout)
{
    layout->quick = calloc((size_t)layout->emitter_count + 1, sizeof *layout->quick);
    if (!layout->quick)
        return RIG_ENOMEM;
    for (uint32_t e = 0; e < layout->emitter_count; e++)
        if (!quicken(&layout->emitters[e], &layout->quick[e])) {
            free(layout->quick);
            layout->quick = NULL;
            break;
        }
    return 0;
}

int layout_make(const struct show *show, const struct mode *mode, struct layout *layout)
{
    int err;
    *layout = (struct layout){
        .cells = mode->slot_count ? (uint32_t)mode->cells : 0,       /* cells without slots take no room and may be many */
        .cell_size = mode->slot_count, .head_size = mode->head_count,
        .footprint = (uint32_t)mode_footprint(mode) };
    layout->tail_start = layout->head_size + layout->cells * layout->cell_size;
    if ((err = section_make(mode->head, mode->head_count, &layout->head)) ||
        (err = section_make(mode->slots, mode->slot_count, &layout->cell)) ||
        (err = section_make(mode->tail, mode->tail_count, &layout->tail)))
        return err;
    if ((err = emitters_make(show, layout)))
        return err;
    return quick_make(layout);
}

void layout_free(struct layout *layout)
{
    if (!layout)
        return;
    free(layout->head.values);
    free(layout->cell.values);
    free(layout->tail.values);
    free(layout->emitters);
    free(layout->quick);
    free(layout->terms);
    free(layout);
}
