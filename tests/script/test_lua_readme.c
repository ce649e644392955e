/* scripts/README.md is complete and true: it names everything that scripts have, and every block of it runs against the
 * show it says and prints what it says. */
#include "lua_fake.h"
#include "rigcall/plan.h"
#include "rigcall/showfile.h"

static struct show *show;
static struct plan *plans[PLAN_CHOICES];     /* what a swap policy sees: T1 of the show is lost */
static uint32_t plan_count;
static char *readme;
static char *lights;                 /* the shipped lib that it uses */

static char *read_file(const char *path)
{
    size_t length;
    char *text;
    assert_int_equal(showfile_read(path, 1u << 20, &text, &length, NULL), 0);
    return text;
}

static void run_script(const char *text)
{
    fake_reset();
    fake.libs[0] = (struct host_lib){ .name = "lights", .bytes = lights, .length = strlen(lights), .path = "lights.lua" };
    fake.host.memory_limit = 64u << 20;
    fake.host.plans = (const struct plan *const *)plans;
    fake.host.plan_count = plan_count;
    fake.host.before = show;         /* the same: nothing has changed */
    if (strstr(text, "kind = \"lib\""))
        fake.host.describe_only = true;
    if (strstr(text, "-- in a rule"))
        fake_rule(show, text);
    else if (strstr(text, "-- in a swap policy"))
        fake_swap(show, text);
    else if (strstr(text, "-- in a sequence"))
        fake_sequence(show, text);
    else
        fake_run(show, text);
}

/* What --> promises stands in the log, in this order. @return how many promises */
static unsigned check_promises(const char *text)
{
    const char *log = fake.log;
    unsigned count = 0;
    for (const char *at = text; (at = strstr(at, "--> ")); count++) {
        char wanted[200];
        at += 4;
        snprintf(wanted, sizeof wanted, "%.*s\n", (int)strcspn(at, "\n"), at);
        const char *found = strstr(log, wanted);
        if (!found || (found > fake.log && found[-1] != '\n'))
            fail_msg("README promises %sthe script printed:\n%s", wanted, log);
        log = found + strlen(wanted);
    }
    return count;
}

static void every_block_runs_and_prints_what_it_says(void **state)
{
    (void)state;
    unsigned blocks = 0, promises = 0;
    for (char *at = readme; (at = strstr(at, "```lua\n")); blocks++) {
        char *end = strstr(at += 7, "```");
        assert_non_null(end);
        char *text = strndup(at, (size_t)(end - at));
        run_script(text);
        if (!fake.done)
            fail_msg("%s\n%s", fake.error, text);
        promises += check_promises(text);
        free(text);
        at = end + 3;
    }
    assert_true(blocks >= 10);
    assert_true(promises >= 25);
}

/* The names come from the sandbox itself. */
static void everything_that_scripts_have_is_named(void **state)
{
    (void)state;
    fake_reset();
    fake_rule(show, "for k, v in pairs(_ENV) do print(k) if type(v) == 'table' and (k == 'rig' or k == 'out' or k == "
                    "'crew' or k == 'os') then "
                    "for name in pairs(v) do print(k .. '.' .. name) end end end");
    assert_true(fake.done);
    unsigned names = 0;
    for (char *name = strtok(fake.log, "\n"); name; name = strtok(NULL, "\n"), names++)
        if (!strstr(readme, name))
            fail_msg("scripts/README.md does not name %s", name);
    assert_true(names > 60);
}

static int open_show(void **state)
{
    (void)state;
    readme = read_file(RIGCALL_SOURCE_DIR "/scripts/README.md");
    lights = read_file(RIGCALL_SOURCE_DIR "/scripts/lib/lights.lua");
    uint32_t lost;
    struct plan_swap_options options = { .out = &lost, .out_count = 1 };
    int err = showfile_load(RIGCALL_SOURCE_DIR "/examples/courtyard/courtyard.show.lua", &show, NULL);
    if (err)
        return err;
    lost = show_find_transmitter(show, "T1");
    return plan_swap_choices(show, &options, plans, &plan_count, NULL);
}

static int close_show(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < plan_count; i++)
        plan_free(plans[i]);
    show_free(show);
    free(readme);
    free(lights);
    fake_free();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_block_runs_and_prints_what_it_says),
        cmocka_unit_test(everything_that_scripts_have_is_named),
    };
    return cmocka_run_group_tests(tests, open_show, close_show);
}
