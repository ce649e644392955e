/* What a whole `rigcall check` costs: CPU time of all its processes and the peak of their summed PSS, for shows of 10,000 and
 * 100,000 fixtures, beside Lua's own compiler loading the same file in the same run (the named alternative).
 * Usage: bench_check [FOLDER for the generated shows; default /tmp]. Needs lua5.4. */
#include "process.h"

static bool files_equal(const char *a, const char *b)
{
    FILE *x = fopen(a, "rb"), *y = fopen(b, "rb");
    int c, d;
    if (!x || !y)
        die("compare");
    do {
        c = getc(x);
        d = getc(y);
    } while (c == d && c != EOF);
    fclose(x);
    fclose(y);
    return c == d;
}

struct size_result { double check_s, lua_s, pss_mib, kept_s, kept_pss_mib; };

/* The same again with a show kept beside it in which every fixture and transmitter has another join code. */
static void with_kept(const char *rigcall, const char *lua, const char *show, const char *count, struct size_result *result)
{
    char kept[4200], edit[4600], out[4200], label[80];
    snprintf(kept, sizeof kept, "%s~", show);
    snprintf(out, sizeof out, "%s.json", show);
    snprintf(edit, sizeof edit, "io.write((io.open(%c%s%c):read('a'):gsub('code = %c%%d%%d', 'code = %c99')))", '"', show, '"', '"', '"');
    char *const make[] = { (char *)lua, "-e", edit, NULL };
    if (measure(make, kept, false).status != 0)
        die("the edit failed");
    char *const check[] = { (char *)rigcall, "check", (char *)show, "--format", "json", NULL };
    snprintf(label, sizeof label, "check of %s, all changed since the kept show", count);
    result->kept_s = median_cpu(check, out, label);
    result->kept_pss_mib = measure(check, out, true).pss_mib;
    if (unlink(kept))
        die("unlink");
}

static struct size_result one_size(const char *rigcall, const char *lua, const char *generator, const char *folder, const char *count)
{
    char show[4096], first[4096], second[4096], load[4200], label[64];
    struct size_result result;
    snprintf(show, sizeof show, "%s/bench-%s.show.lua", folder, count);
    snprintf(first, sizeof first, "%s/bench-%s.1.json", folder, count);
    snprintf(second, sizeof second, "%s/bench-%s.2.json", folder, count);
    snprintf(load, sizeof load, "dofile(%c%s%c)", '"', show, '"');
    char *const make[] = { (char *)lua, (char *)generator, (char *)count, NULL };
    if (measure(make, show, false).status != 0)
        die("the generator failed");
    char *const check[] = { (char *)rigcall, "check", show, "--format", "json", NULL };
    char *const dofile[] = { (char *)lua, "-e", load, NULL };
    snprintf(label, sizeof label, "check of %s fixtures", count);
    result.check_s = median_cpu(check, first, label);
    snprintf(label, sizeof label, "lua dofile of the same %s", count);
    result.lua_s = median_cpu(dofile, second, label);
    struct cost sampled = measure(check, second, true);
    result.pss_mib = sampled.pss_mib;
    int status = WIFEXITED(sampled.status) ? WEXITSTATUS(sampled.status) : -1;
    printf("  peak PSS of all processes %.1f MiB; exit status %d; two runs give %s bytes\n", result.pss_mib, status,
           files_equal(first, second) ? "equal" : "DIFFERENT");
    if (status != 0 && status != 1)
        die("check did not end with status 0 or 1");
    printf("  check / lua dofile = %.2f\n", result.check_s / result.lua_s);
    with_kept(rigcall, lua, show, count, &result);
    return result;
}

int main(int argc, char **argv)
{
    const char *folder = argc > 1 ? argv[1] : "/tmp", *generator = RIGCALL_SOURCE_DIR "/tests/bench/make_show.lua";
    struct size_result small = one_size(RIGCALL_PROGRAM, "lua5.4", generator, folder, "10000");
    struct size_result large = one_size(RIGCALL_PROGRAM, "lua5.4", generator, folder, "100000");
    printf("10,000: %.3f s (wanted under 0.300), %.1f MiB (under 150)\n", small.check_s, small.pss_mib);
    printf("100,000 / 10,000 CPU: %.2f (at most 12); %.1f MiB (under 512)\n", large.check_s / small.check_s, large.pss_mib);
    printf("with a kept show: 10,000: %.3f s, %.1f MiB; 100,000: %.3f s, %.1f MiB; the same aims\n", small.kept_s, small.kept_pss_mib,
           large.kept_s, large.kept_pss_mib);
    return 0;
}
