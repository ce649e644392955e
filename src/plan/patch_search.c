/* Stretches that follow the borders of reaches. A stretch on a given column is as long as slots and reach allow: a shorter one
 * leaves more to do and saves nothing. So the search only chooses the column of each stretch, the longest first. */
#include <string.h>

#include "patch_internal.h"

#define CHOICES (1u << 22)           /* kept at once */

struct choice { uint32_t column, end; };
struct frame { uint32_t at, first, count, now; bool opened; };      /* opened: the choice fixed its transmitter's air mode */

struct search {
    struct patch *patch;
    struct frame *frames;
    struct choice *choices; uint32_t choice_count, choice_room;
    uint32_t *needs;                 /* lanes that what begins here takes at least, if lanes were free for all */
    uint64_t lanes, steps;           /* lanes left in all, at most */
};

/* Where a stretch from `at` on ends at the latest: column PATCH_NONE means wired items only. */
static uint32_t end_of(const struct patch *patch, uint32_t at, uint32_t column)
{
    uint32_t end = at, slots = 0, site = patch__rest(patch, at)->site;
    for (; end < patch->rest_count; end++) {
        const struct patch_item *item = patch__rest(patch, end);
        bool serves = column == PATCH_NONE ? item->wired : patch__mask(patch, end)[column / 64] >> column % 64 & 1;
        if (!serves || item->site != site || slots + item->size > SHOW_SLOTS)
            break;
        slots += item->size;
    }
    return end;
}

static int find_needs(struct search *search)
{
    struct patch *patch = search->patch;
    uint64_t *mask = patch__alloc(patch, patch->words, sizeof *mask);
    search->needs = patch__alloc(patch, patch->rest_count + (size_t)1, sizeof *search->needs);
    if (!mask || !search->needs)
        return RIG_ENOMEM;
    for (uint32_t i = patch->rest_count; i-- > 0;) {
        uint32_t end = i, slots = 0, site = patch__rest(patch, i)->site;
        memset(mask, 0xff, patch->words * sizeof *mask);
        for (; end < patch->rest_count && patch__rest(patch, end)->site == site; end++) {
            slots += patch__rest(patch, end)->size;
            if (slots > SHOW_SLOTS || !patch__narrow(patch, mask, patch__mask(patch, end)))
                break;
        }
        search->needs[i] = search->needs[end] + 1;
        if (patch__rest(patch, i)->wired && search->needs[i + 1] < search->needs[i])
            search->needs[i] = search->needs[i + 1];         /* it may stand in a universe without a lane */
    }
    return 0;
}

static uint32_t lanes_left(const struct patch *patch, uint32_t column)
{
    const struct patch_transmitter *tx = &patch->transmitters[patch->columns[column].transmitter];
    uint32_t lanes = patch->columns[column].lanes;
    return (tx->chosen == PATCH_NONE || tx->chosen == column) && lanes > tx->used ? lanes - tx->used : 0;
}

static int add_choice(struct search *search, struct frame *frame, uint32_t column)
{
    struct choice choice = { column, end_of(search->patch, frame->at, column) };
    if (choice.end == frame->at)
        return 0;
    if (search->choice_count == search->choice_room) {
        uint32_t room = search->choice_room ? search->choice_room * 2 : 1024;
        struct choice *grown = patch__alloc(search->patch, room, sizeof *grown);
        if (!grown)
            return RIG_ENOMEM;
        if (search->choice_count)
            memcpy(grown, search->choices, search->choice_count * sizeof *grown);
        search->choices = grown;
        search->choice_room = room;
    }
    uint32_t at = search->choice_count++;
    for (; at > frame->first && search->choices[at - 1].end < choice.end; at--)
        search->choices[at] = search->choices[at - 1];
    search->choices[at] = choice;
    frame->count++;
    return 0;
}

/* What could come at `at`. Nothing, if there are not lanes enough for the rest anyway. */
static int open_frame(struct search *search, struct frame *frame, uint32_t at)
{
    struct patch *patch = search->patch;
    const uint64_t *mask = patch__mask(patch, at);
    *frame = (struct frame){ .at = at, .first = search->choice_count };
    search->steps++;
    if (search->needs[at] > search->lanes)
        return 0;
    int err = patch__rest(patch, at)->wired ? add_choice(search, frame, PATCH_NONE) : 0;
    for (uint32_t w = 0; w < patch->words; w++)
        for (uint64_t bits = mask[w]; bits && !err; bits &= bits - 1) {
            uint32_t c = w * 64 + (uint32_t)__builtin_ctzll(bits);
            search->steps++;
            if (c < patch->column_count && lanes_left(patch, c))
                err = add_choice(search, frame, c);
        }
    return err;
}

static void take(struct search *search, struct frame *frame)
{
    uint32_t column = search->choices[frame->first + frame->now].column;
    if (column == PATCH_NONE)
        return;
    struct patch_transmitter *tx = &search->patch->transmitters[search->patch->columns[column].transmitter];
    frame->opened = tx->chosen == PATCH_NONE;
    tx->chosen = column;
    tx->used++;
    search->lanes--;
}

static void give_back(struct search *search, struct frame *frame)
{
    uint32_t column = search->choices[frame->first + frame->now].column;
    if (column == PATCH_NONE)
        return;
    struct patch_transmitter *tx = &search->patch->transmitters[search->patch->columns[column].transmitter];
    if (frame->opened)
        tx->chosen = PATCH_NONE;
    tx->used--;
    search->lanes++;
}

/* @return depth at which everything is placed, or 0 */
static int walk(struct search *search, uint32_t *found)
{
    struct patch *patch = search->patch;
    uint32_t depth = 0;
    int err = open_frame(search, &search->frames[0], 0);
    *found = 0;
    while (!err) {
        struct frame *frame = &search->frames[depth];
        if (frame->now < frame->count) {
            uint32_t end = search->choices[frame->first + frame->now].end;
            take(search, frame);
            depth++;
            if (end == patch->rest_count) {
                *found = depth;
                return 0;
            }
            err = open_frame(search, &search->frames[depth], end);
            continue;
        }
        search->choice_count = frame->first;
        if (depth == 0)
            return 0;
        if (search->steps > patch->step_limit || search->choice_count > CHOICES) {
            patch->limited = true;
            return 0;
        }
        frame = &search->frames[--depth];
        give_back(search, frame);
        frame->now++;
    }
    return err;
}

int patch__search(struct patch *patch, uint32_t *ends, uint32_t *columns, uint32_t *count)
{
    struct search search = { .patch = patch, .frames = patch__alloc(patch, patch->rest_count + (size_t)1, sizeof *search.frames) };
    *count = 0;
    int err = search.frames ? find_needs(&search) : RIG_ENOMEM;
    for (uint32_t t = 0; t < patch->transmitter_count; t++) {
        const struct patch_transmitter *tx = &patch->transmitters[t];
        uint32_t most = 0;
        for (uint32_t c = tx->column; c < tx->column + tx->column_count; c++)
            most = patch->columns[c].lanes > most ? patch->columns[c].lanes : most;
        search.lanes += most;
    }
    if (!err)
        err = walk(&search, count);
    for (uint32_t i = 0; i < *count; i++) {
        const struct choice *choice = &search.choices[search.frames[i].first + search.frames[i].now];
        ends[i] = choice->end;
        columns[i] = choice->column;
    }
    return err;
}
