/* Swaps and moves on random shows, sound ones and spoiled ones: a check afterwards says nothing that is new and not named. */
#include "after_plan.h"
#include "plan/swap_show.h"

static void spoil_transmitter(struct dice *dice, struct show *show)
{
    struct transmitter *t = &show->transmitters[below(dice, show->transmitter_count)];
    switch (below(dice, 11)) {
    case 0: t->code = text_of(show, chance(dice, 50) ? "4071826" : "4071826x"); break;
    case 1: give_lane(show, t, transmitter_lane_count(t) + 1 + below(dice, 2), 1 + below(dice, 5)); break;
    case 2: give_lane(show, t, 1, 1 + below(dice, 5)); break;              /* often the second on it */
    case 3: give_lane(show, t, (int64_t)below(dice, 3) - 1, 90 + below(dice, 2)); break;      /* lanes -1 to 1, not listed */
    case 4: t->site = text_of(show, "nowhere"); break;
    case 5: t->air = t->air == AIR_DUAL ? AIR_SINGLE : AIR_DUAL; break;
    case 6: t->radios = 0; break;
    case 7: t->reach_m = 0.5; t->pos = (struct position){ 1000, 0, 0 }; break;
    case 8: t->code = NULL; break;
    case 9: t->spare = !t->spare; break;
    case 10: t->airs = 0; break;
    }
}

static void spoil_fixture(struct dice *dice, struct show *show)
{
    struct fixture *f = &show->fixtures[below(dice, show->fixture_count)];
    switch (below(dice, 11)) {
    case 0: f->code = text_of(show, "4071826"); break;
    case 1: f->site = text_of(show, "nowhere"); break;
    case 2: f->type = text_of(show, "lamp"); break;
    case 3: f->universe = 90 + below(dice, 2); break;
    case 4: f->air = f->air == AIR_DUAL ? AIR_SINGLE : AIR_DUAL; break;
    case 5: f->lane = (int64_t)below(dice, 4) * 5 - 1; break;
    case 6: f->wired = true; break;
    case 7: f->universe = SHOW_NONE; break;
    case 8: f->address = 600; break;
    case 10: show->universes[below(dice, show->universe_count)].id = 96; break;      /* what named it names nothing */
    case 9: f->pos = (struct position){ 70 + below(dice, 100), 0, 0 }; break;
    }
}

static struct show *make_show(struct dice *dice, const struct recipe *recipe, bool spoiled)
{
    struct show *show = small_show(dice, recipe);
    const char *mode = text_of(show, "m");
    for (uint32_t t = 0; t < show->type_count; t++) {
        struct type *type = &show->types[t];
        type->modes = show_alloc(show, sizeof *type->modes);
        type->mode_count = 1;
        type->modes[0].id = mode;
        type->modes[0].slots = show_alloc(show, sizeof(struct slot));
        type->modes[0].slots[0] = (struct slot){ .param = (uint16_t)show_param(show, "red", 3), .default_percent = NAN };
        type->modes[0].slot_count = 1;
        type->modes[0].cells = 4;
    }
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        show->fixtures[f].mode = mode;
        show->fixtures[f].address = 1 + 4 * (int64_t)f;
    }
    for (uint32_t n = spoiled ? 1 + below(dice, 4) : 0; n > 0; n--)
        (chance(dice, 60) ? spoil_transmitter : spoil_fixture)(dice, show);
    for (uint32_t t = 0; t < show->transmitter_count; t++)   /* ids repeat now and then: then the commands refuse the file */
        for (uint32_t u = 0; u < t; u++)
            if (!strcmp(show->transmitters[t].id, show->transmitters[u].id)) {
                char id[16];
                snprintf(id, sizeof id, "X%u", t);
                show->transmitters[t].id = text_of(show, id);
            }
    assert_int_equal(show_index(show), 0);
    return show;
}

static const struct recipe recipes[] = {
    { 4, 2, 5, 10, 15, true, 0, false }, { 3, 2, 4, 8, 30, false, 0, false }, { 4, 1, 5, 10, 20, true, 0, true }, { 4, 1, 4, 8, 25, true, 60, false },
};
#define RECIPES (sizeof recipes / sizeof *recipes)

static void swap_many(uint64_t from, uint32_t count, bool spoiled)
{
    struct after_seen seen = { 0 };
    for (uint64_t number = first_show(from); number < first_show(from) + shows(count); number++) {
        struct dice dice = { number * 1000003 };
        struct show *show = make_show(&dice, &recipes[number % RECIPES], spoiled);
        const uint32_t out[2] = { 0, 1 };
        struct plan_swap_options options = { .out = out, .out_count = show->transmitter_count > 2 && chance(&dice, 30) ? 2 : 1,
                                             .keep_working = chance(&dice, 20) };
        struct plan *plan;
        assert_int_equal(plan_swap(show, &options, &plan, NULL), 0);
        check_after(plan, show, number, &seen);
        plan_free(plan);
        show_free(show);
    }
    print_seen(&seen);
    assert_true(seen.dark > 0 && seen.named_universes > 0);
}

static void move_many(uint64_t from, uint32_t count, bool spoiled)
{
    struct after_seen seen = { 0 };
    for (uint64_t number = first_show(from); number < first_show(from) + shows(count); number++) {
        struct dice dice = { number * 1000003 };
        struct show *show = make_show(&dice, &recipes[number % RECIPES], spoiled);
        struct plan_position positions[16];
        struct plan_move_options options = { .from = 0, .to = 1, .positions = positions };
        struct plan *plan;
        for (uint32_t t = 1; t < show->transmitter_count; t++)
            if (chance(&dice, 50))
                show->transmitters[t].site = show->sites[1].id;
        for (uint32_t f = 0; f < show->fixture_count; f++)
            if (!strcmp(show->fixtures[f].site, "quay") && recipes[number % RECIPES].far && chance(&dice, 60))
                positions[options.position_count++] = (struct plan_position){ f, { below(&dice, 100), 0, 0 } };
        assert_int_equal(show_index(show), 0);
        assert_int_equal(plan_move(show, &options, &plan, NULL), 0);
        check_after(plan, show, number, &seen);
        plan_free(plan);
        show_free(show);
    }
    print_seen(&seen);
    assert_true(seen.dark > 0 && seen.refused > 0);
}

static void after_a_swap(void **state)
{
    (void)state;
    swap_many(1, 120, false);
}

static void after_a_swap_in_a_spoiled_show(void **state)
{
    (void)state;
    swap_many(10001, 240, true);
}

static void after_a_move(void **state)
{
    (void)state;
    move_many(20001, 90, false);
}

static void after_a_move_in_a_spoiled_show(void **state)
{
    (void)state;
    move_many(30001, 150, true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(after_a_swap),
        cmocka_unit_test(after_a_swap_in_a_spoiled_show),
        cmocka_unit_test(after_a_move),
        cmocka_unit_test(after_a_move_in_a_spoiled_show),
    };
    int status = cmocka_run_group_tests(tests, NULL, NULL);
    free_rules();
    return status;
}
