/* Where a fixture really lands, from the settings keyed into it and the transmitters on the air. Every look-up goes by join
 * code, so the cost of a fixture is that of the few transmitters that share its code. */
#include <stdlib.h>
#include <string.h>

#include "rigcall/radio.h"

/* The transmitters that a fixture's settings match. */
struct matches {
    uint32_t all, in_reach;          /* how many */
    uint32_t only;                   /* any match */
    uint32_t first, second;          /* the first two in reach, in file order */
};

static bool is_match(const struct transmitter *transmitter, const struct fixture *fixture)
{
    return !transmitter->spare && transmitter->air == fixture->air &&
           fixture->lane >= 1 && fixture->lane <= transmitter_lane_count(transmitter);
}

static struct matches match(const struct show *show, const struct fixture *fixture)
{
    struct matches found = { 0, 0, SHOW_UNKNOWN, SHOW_UNKNOWN, SHOW_UNKNOWN };
    uint32_t count;
    const uint32_t *with_code = show_code_transmitters(show, fixture->code, &count);
    if (fixture->wired || fixture->air == AIR_NONE || fixture->lane == SHOW_NONE)
        return found;
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *transmitter = &show->transmitters[with_code[i]];
        if (!is_match(transmitter, fixture))
            continue;
        found.all++;
        found.only = with_code[i];
        if (!radio_in_reach(show, transmitter, fixture))
            continue;
        if (++found.in_reach == 1) {
            found.first = with_code[i];
            continue;
        }
        found.second = with_code[i];
        break;                       /* two in reach are too many: a third changes nothing */
    }
    return found;
}

/* What a lane carries. @return LANDING_RIGHT and the universe, LANDING_EMPTY or LANDING_SHARED */
static enum landing_state lane_content(const struct transmitter *transmitter, int64_t lane, int64_t *universe)
{
    enum landing_state state = LANDING_EMPTY;
    for (uint32_t e = 0; e < transmitter->lane_count; e++) {
        if (transmitter->lanes[e].lane != lane)
            continue;
        if (state == LANDING_RIGHT)
            return LANDING_SHARED;
        state = LANDING_RIGHT;
        *universe = transmitter->lanes[e].universe;
    }
    return state;
}

struct landing radio_landing(const struct show *show, const struct fixture *fixture)
{
    struct landing landing = { LANDING_NOT_ASKED, SHOW_UNKNOWN, SHOW_UNKNOWN, SHOW_NONE };
    int64_t universe = SHOW_NONE;
    if (fixture->universe == SHOW_NONE || fixture->wired || !fixture->code || fixture->air == AIR_NONE ||
        fixture->lane == SHOW_NONE)
        return landing;
    struct matches found = match(show, fixture);
    if (found.in_reach == 0) {
        landing.state = found.all == 1 ? LANDING_BEYOND : LANDING_NOWHERE;
        landing.transmitter = found.all == 1 ? found.only : SHOW_UNKNOWN;
        return landing;
    }
    landing.transmitter = found.first;
    landing.second = found.second;
    if (found.in_reach > 1) {
        landing.state = LANDING_TWICE;
        return landing;
    }
    landing.state = lane_content(&show->transmitters[found.first], fixture->lane, &universe);
    if (landing.state != LANDING_RIGHT)
        return landing;
    landing.universe = universe;
    if (universe != fixture->universe)
        landing.state = LANDING_OTHER_UNIVERSE;
    return landing;
}

uint32_t radio_transmitter_of(const struct show *show, const struct fixture *fixture)
{
    struct matches found = match(show, fixture);
    if (found.in_reach == 1)
        return found.first;
    return found.all == 1 ? found.only : SHOW_UNKNOWN;
}

static bool is_named(const struct show *show, uint32_t transmitter, const char *const *names, size_t count)
{
    for (size_t n = 0; transmitter != SHOW_UNKNOWN && n < count; n++)
        if (strcmp(show->transmitters[transmitter].id, names[n]) == 0)
            return true;
    return false;
}

static bool is_selected(const struct show *show, const struct selection *selection, const struct fixture *fixture)
{
    size_t count;
    if (!selection)
        return true;
    const char *const *names = selection_transmitters(selection, &count);
    if (!selection_matches(selection, fixture))
        return false;
    if (count == 0)
        return true;
    struct matches found = match(show, fixture);
    if (found.in_reach > 0)
        return is_named(show, found.first, names, count) || is_named(show, found.second, names, count);
    return found.all == 1 && is_named(show, found.only, names, count);
}

int radio_select(const struct show *show, const struct selection *selection, uint32_t **out, uint32_t *count)
{
    const uint32_t *order = show_patch_order(show);
    uint32_t *chosen = malloc((show->fixture_count + (size_t)1) * sizeof *chosen);
    *out = chosen;
    *count = 0;
    if (!chosen)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < show->fixture_count; i++)
        if (is_selected(show, selection, &show->fixtures[order[i]]))
            chosen[(*count)++] = order[i];
    return 0;
}
