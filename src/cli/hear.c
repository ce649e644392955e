#include "hear.h"

#include <stdlib.h>

#include "cli.h"
#include "progress.h"

int hear_where(const struct options *options, const char *command, struct sacn_receiver_options *receiver, struct rig_why *why)
{
    size_t at = 0;
    const char *name;
    *receiver = (struct sacn_receiver_options){ .ipv6 = options_has(options, "ipv6"),
                                                .port = (uint16_t)options_number(options, "port", 0) };
    while ((name = options_next(options, "if", &at))) {
        if (receiver->interface_count == SACN_INTERFACES)
            return rig_fail(why, RIG_EUSAGE, "%s: --if is given more than %d times", command, SACN_INTERFACES);
        receiver->interfaces[receiver->interface_count++] = name;
    }
    return 0;
}

static int by_number(const void *a, const void *b)
{
    uint16_t left = *(const uint16_t *)a, right = *(const uint16_t *)b;
    return (left > right) - (left < right);
}

int hear_universes(const struct show *show, uint16_t **out, size_t *count, struct rig_why *why)
{
    uint16_t *list = calloc((size_t)show->universe_count + 1, sizeof *list);
    size_t kept = 0;
    *out = list;
    *count = 0;
    if (!list)
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    for (uint32_t i = 0; i < show->universe_count; i++) {
        int64_t wire = universe_wire(&show->universes[i]);
        if (wire >= SACN_FIRST_UNIVERSE && wire <= SACN_LAST_UNIVERSE)
            list[(*count)++] = (uint16_t)wire;
    }
    qsort(list, *count, sizeof *list, by_number);
    for (size_t i = 0; i < *count; i++)
        if (i == 0 || list[i] != list[i - 1])
            list[kept++] = list[i];
    *count = kept;
    return 0;
}

void hear_warn_short(double seconds)
{
    if (seconds > 0 && seconds < SACN_LOSS_S)
        say("listening for %g s only: a universe is called silent after %g s", seconds, SACN_LOSS_S);
}

struct wait { struct progress progress; double seconds; };

static bool on_wait(void *context, const struct listening *heard)
{
    struct wait *wait = context;
    progress_show(&wait->progress, "listening, %.0f of %g s", heard->seconds, wait->seconds);
    return true;
}

static int hear_now(struct listen_options *how, struct listening *heard, struct rig_why *why)
{
    struct wait wait = { .seconds = how->seconds };
    how->heard = on_wait;
    how->context = &wait;
    how->every_s = 1;
    hear_warn_short(how->seconds);
    progress_start(&wait.progress);
    int err = listen_run(how, heard, why);
    progress_end(&wait.progress);
    if (!err && *heard->warning)
        say("%s", heard->warning);
    if (!err && heard->interrupted)
        err = rig_fail(why, RIG_EFAILED, "check: stopped after listening for %.1f of %g s", heard->seconds, how->seconds);
    return err;
}

int hear_for_check(const struct show *show, const struct options *options, struct listening *heard, struct rig_why *why)
{
    static const char *const others[] = { "seconds", "if", "ipv6", "port" };
    struct listen_options how = { .follow = true, .seconds = options_number(options, "seconds", HEAR_S) };
    uint16_t *universes = NULL;
    *heard = (struct listening){ 0 };
    for (size_t i = 0; !options_has(options, "live") && i < sizeof others / sizeof *others; i++)
        if (options_has(options, others[i]))
            return rig_fail(why, RIG_EUSAGE, "check: --%s needs --live", others[i]);
    if (!options_has(options, "live"))
        return 0;
    int err = hear_where(options, "check", &how.receiver, why);
    if (!err)
        err = hear_universes(show, &universes, &how.universe_count, why);
    how.universes = universes;
    if (!err)
        err = hear_now(&how, heard, why);
    free(universes);
    return err;
}
