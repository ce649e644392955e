/* patch --tight against GLPK's glpsol, an independent optimiser: each rig is written down as an integer program in CPLEX LP
 * format, from the definitions and not from the planner. Ends with 77 (skipped) where glpsol is missing. */
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include "plan/patch_random.h"

#define INSTANCES 150

extern char **environ;

static char folder[] = "/tmp/rigcall-glpsol-XXXXXX";

static int run(char *const argv[])
{
    posix_spawn_file_actions_t quiet;
    pid_t pid;
    int status = -1;
    posix_spawn_file_actions_init(&quiet);
    posix_spawn_file_actions_addopen(&quiet, 1, "/dev/null", 1, 0);
    posix_spawn_file_actions_addopen(&quiet, 2, "/dev/null", 1, 0);
    if (posix_spawnp(&pid, argv[0], &quiet, NULL, argv, environ) == 0)
        waitpid(pid, &status, 0);
    posix_spawn_file_actions_destroy(&quiet);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static bool may(const struct show *show, uint32_t tx, uint32_t fixture)
{
    const struct fixture *f = &show->fixtures[fixture];
    const struct transmitter *t = &show->transmitters[tx];
    const struct type *type = fixture_type(show, f);
    return (type->airs & AIR_BIT(t->air)) && radio_in_reach(show, t, f)
           && !(t->air == AIR_DUAL && type->firmware_floor[AIR_DUAL] && f->firmware && !strcmp(f->firmware, "3.0"));
}

/* x: fixture i in universe j; z: universe j on transmitter p; the objective counts universes. */
static void write_program(const struct show *show, const char *path)
{
    FILE *out = fopen(path, "w");
    uint32_t n = show->fixture_count, t = show->transmitter_count;
    assert_non_null(out);
    fprintf(out, "Minimize\n obj:");
    for (uint32_t j = 0; j < n; j++)
        for (uint32_t p = 0; p < t; p++)
            fprintf(out, " + z_%u_%u", j, p);
    fprintf(out, "\nSubject To\n");
    for (uint32_t i = 0; i < n; i++) {                       /* universe j holds fixture j, the first of it, or is not used */
        for (uint32_t j = 0; j <= i; j++)
            fprintf(out, " + x_%u_%u", i, j);
        fprintf(out, " = 1\n");
    }
    for (uint32_t j = 0; j < n; j++) {
        for (uint32_t i = j; i < n; i++)
            fprintf(out, " + %" PRId64 " x_%u_%u", fixture_footprint(show, &show->fixtures[i]), i, j);
        for (uint32_t p = 0; p < t; p++)
            fprintf(out, " - 512 z_%u_%u", j, p);
        fprintf(out, " <= 0\n");
        for (uint32_t p = 0; p < t; p++)
            fprintf(out, " + z_%u_%u", j, p);
        fprintf(out, " <= 1\n");
        for (uint32_t i = j; i < n; i++) {
            fprintf(out, " x_%u_%u", i, j);
            for (uint32_t p = 0; p < t; p++)
                if (may(show, p, i))
                    fprintf(out, " - z_%u_%u", j, p);
            fprintf(out, " <= 0\n");
            if (i > j)
                fprintf(out, " x_%u_%u - x_%u_%u <= 0\n", i, j, j, j);
        }
    }
    for (uint32_t p = 0; p < t; p++) {
        for (uint32_t j = 0; j < n; j++)
            fprintf(out, " + z_%u_%u", j, p);
        fprintf(out, " <= %" PRId64 "\n", transmitter_lane_count(&show->transmitters[p]));
    }
    fprintf(out, "Binary\n");
    for (uint32_t j = 0; j < n; j++) {
        for (uint32_t i = j; i < n; i++)
            fprintf(out, " x_%u_%u", i, j);
        for (uint32_t p = 0; p < t; p++)
            fprintf(out, " z_%u_%u", j, p);
        fprintf(out, "\n");
    }
    fprintf(out, "End\n");
    assert_int_equal(fclose(out), 0);
}

enum verdict { OPTIMAL, EMPTY, UNDECIDED };

static enum verdict read_answer(const char *path, double *objective)
{
    FILE *in = fopen(path, "r");
    char line[256];
    enum verdict verdict = UNDECIDED;
    if (!in)
        return UNDECIDED;
    while (fgets(line, sizeof line, in)) {
        if (!strncmp(line, "Status:", 7) && strstr(line, "INTEGER OPTIMAL"))
            verdict = OPTIMAL;
        else if (!strncmp(line, "Status:", 7) && (strstr(line, "EMPTY") || strstr(line, "INFEASIBLE") || strstr(line, "UNDEFINED")))
            verdict = EMPTY;
        sscanf(line, "Objective: obj = %lf", objective);
    }
    fclose(in);
    return verdict;
}

/* Wireless fixtures of one site, transmitters without lanes whose air mode is fixed. */
static void bare(struct show *show)
{
    uint32_t kept = 0;
    for (uint32_t i = 0; i < show->fixture_count; i++)
        if (show->fixtures[i].universe == SHOW_NONE && strcmp(show->fixtures[i].type, "t5")) {
            show->fixtures[kept] = show->fixtures[i];
            show->fixtures[kept].wired = false;
            show->fixtures[kept++].same_as = SHOW_NONE;
        }
    show->fixture_count = kept;
    for (uint32_t i = 0; i < show->transmitter_count; i++) {
        struct transmitter *t = &show->transmitters[i];
        t->lane_count = 0;
        t->code = NULL;
        t->spare = false;
        t->airs = AIR_BIT(t->air);
        t->radios++;
        t->reach_m += 60;
    }
    show->quiet_count = 0;
    assert_int_equal(show_index(show), 0);
}

static void as_few_universes_as_glpsol(void **state)
{
    (void)state;
    char program[64], answer[64];
    uint32_t optimal = 0, empty = 0;
    snprintf(program, sizeof program, "%s/in.lp", folder);
    snprintf(answer, sizeof answer, "%s/out.txt", folder);
    char *argv[] = { "glpsol", "--lp", program, "-o", answer, "--tmlim", "60", NULL };
    for (uint32_t number = 1; optimal + empty < INSTANCES; number++) {
        struct dice dice = { number * UINT64_C(0xa0761d6478bd642f) };
        struct show *show = random_show(&dice, (struct random_size){ 4, 13, 1, true });
        bare(show);
        if (show->fixture_count < 4) {
            show_free(show);
            continue;
        }
        struct plan_patch_options options = { .site = SHOW_UNKNOWN, .tight = true };
        struct plan *plan;
        struct rig_why why;
        double objective = -1;
        assert_int_equal(plan_patch(show, &options, &plan, &why), 0);
        check_plan(plan, show, &options);
        write_program(show, program);
        unlink(answer);
        assert_int_equal(run(argv), 0);
        enum verdict verdict = read_answer(answer, &objective);
        if (verdict == UNDECIDED || (plan->dark == 0) != (verdict == OPTIMAL))
            fail_msg("instance %u: glpsol says %d, the plan leaves %u dark", number, verdict, plan->dark);
        if (verdict == OPTIMAL && (plan->universes != (uint32_t)(objective + 0.5) || plan->universes_at_least > plan->universes))
            fail_msg("instance %u: %u universes, at least %u, glpsol %g", number, plan->universes, plan->universes_at_least, objective);
        optimal += verdict == OPTIMAL;
        empty += verdict == EMPTY;
        plan_free(plan);
        show_free(show);
    }
    print_message("%u rigs with equal numbers of universes, %u that do not fit for either\n", optimal, empty);
    assert_true(optimal >= 100);
    unlink(program);
    unlink(answer);
}

int main(void)
{
    char *version[] = { "glpsol", "--version", NULL };
    if (run(version) != 0) {
        puts("skipped: glpsol is missing (Debian glpk-utils)");
        return 77;
    }
    if (!mkdtemp(folder))
        return 1;
    const struct CMUnitTest tests[] = { cmocka_unit_test(as_few_universes_as_glpsol) };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    rmdir(folder);
    return failed;
}
