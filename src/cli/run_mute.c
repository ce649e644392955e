/* Players around the sequence's own: one for sequences that may not ask, because nobody is there and --answer is not given; one
 * that shows how far a dry run is. */
#include "run.h"

static void mute_resume(void *context, int64_t now_ns, enum crew_answer answer, const char *note)
{
    struct mute *mute = context;
    mute->inner->resume(mute->inner->context, now_ns, answer, note);
}

static void mute_collect(void *context, struct engine *engine, int timeout_ms, struct engine_wish *wish)
{
    struct mute *mute = context;
    mute->inner->collect(mute->inner->context, engine, timeout_ms, wish);
    if (wish->kind == WISH_ASK) {
        mute->asked = true;
        wish->kind = WISH_BROKEN;
        rig_fail(&wish->why, RIG_EUSAGE, "the sequence asks \"%.200s\"; there is no terminal, and --answer is not given",
                 wish->question);
    } else if (wish->kind == WISH_WAIT && wish->until_ns > mute->until_ns) {
        wish->kind = WISH_DONE;
    }
}

static void mute_stop(void *context)
{
    struct mute *mute = context;
    mute->inner->stop(mute->inner->context);
}

void mute_init(struct mute *mute, struct engine_player *inner, int64_t until_ns)
{
    *mute = (struct mute){ .inner = inner, .until_ns = until_ns };
    mute->player = (struct engine_player){ mute, inner->fd, mute_resume, mute_collect, mute_stop };
}

static void watch_resume(void *context, int64_t now_ns, enum crew_answer answer, const char *note)
{
    struct watch *watch = context;
    progress_show(&watch->progress, "%lld s played", (long long)(now_ns / 1000000000));
    watch->inner->resume(watch->inner->context, now_ns, answer, note);
}

static void watch_collect(void *context, struct engine *engine, int timeout_ms, struct engine_wish *wish)
{
    struct watch *watch = context;
    watch->inner->collect(watch->inner->context, engine, timeout_ms, wish);
}

static void watch_stop(void *context)
{
    struct watch *watch = context;
    watch->inner->stop(watch->inner->context);
}

void watch_init(struct watch *watch, struct engine_player *inner)
{
    watch->inner = inner;
    watch->player = (struct engine_player){ watch, inner->fd, watch_resume, watch_collect, watch_stop };
    progress_start(&watch->progress);
}
