/* The player and the crew in a live run. A script is woken a little before its frame, so that what it commands at a time is in the
 * first frame at or after it, as in a dry run; its own clock says the time it waited for. */
#include <math.h>

#include "live.h"

#define LEAD_NS 25000000             /* most that a script is ahead of the clock, and never more than a frame */

int64_t live_script_wake(const struct live *live)
{
    if (live->script != SCRIPT_WAITS || live->stage > LIVE_RUNNING)
        return INT64_MAX;
    uint64_t frame = engine_frame_at(live->run.engine, live->until_ns);
    double before = engine_frame_time(live->run.engine, frame) - LEAD_NS;
    double last = frame > 0 ? engine_frame_time(live->run.engine, frame - 1) : 0;
    int64_t wake_ns = (int64_t)ceil(before > last ? before : last);
    return wake_ns < live->until_ns ? wake_ns : live->until_ns;
}

static void resume(struct live *live, int64_t now_ns, enum crew_answer answer, const char *note)
{
    struct engine_player *player = live->run.play->player;
    live->script = SCRIPT_BUSY;
    live->script_ns = now_ns;
    player->resume(player->context, now_ns, answer, note);
}

void live_script_stop(struct live *live)
{
    struct engine_player *player = live->run.play->player;
    if (live->script == SCRIPT_OVER)
        return;
    live->script = SCRIPT_OVER;
    live_fd_rest(&live->crew_fd);
    live_fd_close(&live->player_fd, false);
    if (player->stop)
        player->stop(player->context);
}

static void answered(struct live *live, enum crew_answer answer, const char *note)
{
    int64_t now_ns = live_now(live);
    if (now_ns < live->script_ns)
        now_ns = live->script_ns;
    run_answered(&live->run, (double)now_ns / 1e9, answer, note);
    if (!live->run.result)
        resume(live, now_ns, answer, note);
}

static void on_answer(uv_poll_t *handle, int status, int events)
{
    struct live *live = handle->data;
    const struct engine_crew *crew = live->run.play->crew;
    enum crew_answer answer = CREW_SKIP;
    char note[256] = "";
    (void)events;
    if (live->script != SCRIPT_ASKS)
        return;
    if (status < 0)
        answer = crew->standing;     /* the terminal is gone */
    else if (!crew->read(crew->context, &answer, note, sizeof note))
        return;
    live_fd_rest(&live->crew_fd);
    answered(live, answer, note);
    live_work(live);
}

static void ask(struct live *live)
{
    const struct engine_crew *crew = live->run.play->crew;
    const struct engine_wish *wish = &live->run.wish;
    char subject[200] = "";
    run_asked(&live->run, (double)live->script_ns / 1e9);
    if (wish->fixture < live->run.engine->show->fixture_count)
        show_describe(live->run.engine->show, SUBJECT_FIXTURE, wish->fixture, subject, sizeof subject);
    bool answerable = crew && crew->fd >= 0 && crew->ask && crew->read;
    if (crew && crew->ask)
        crew->ask(crew->context, subject, wish->question);
    live->script = SCRIPT_ASKS;
    if (!answerable)
        answered(live, crew ? crew->standing : CREW_SKIP, "");
    else
        live_fd_watch(live, &live->crew_fd, crew->fd, "terminal", on_answer);
}

static void grant(struct live *live)
{
    struct run *run = &live->run;
    int64_t until_ns;
    switch (run->wish.kind) {
    case WISH_MORE:
    case WISH_AGAIN:
        break;
    case WISH_WAIT:
        if (run_wait(run, live->script_ns, &until_ns)) {
            live->script = SCRIPT_WAITS;
            live->until_ns = until_ns;
        }
        break;
    case WISH_ASK:
        run->wish.until_ns = live->script_ns;
        if (run_wait(run, live->script_ns, &until_ns))
            ask(live);
        break;
    case WISH_DONE:
    case WISH_BROKEN:
        live->script = SCRIPT_OVER;
        live_fd_close(&live->player_fd, false);
        live_fd_rest(&live->crew_fd);
        if (run->wish.kind == WISH_BROKEN)
            run_fail_why(run, RIG_ESCRIPT, &run->wish.why);
        break;
    }
}

static void collect(struct live *live)
{
    struct engine_player *player = live->run.play->player;
    player->collect(player->context, live->run.engine, 0, &live->run.wish);
    run_notices(&live->run, (double)live->script_ns / 1e9);
    grant(live);
}

void live_script_work(struct live *live)
{
    bool collected = false;
    live->more_to_read = false;
    while (!live->run.result && live->stage <= LIVE_RUNNING) {
        if (live->script == SCRIPT_BUSY && !collected) {
            collect(live);
            live->more_to_read = live->run.wish.kind == WISH_AGAIN;
            collected = live->run.wish.kind == WISH_MORE || live->more_to_read;
        } else if (live->script == SCRIPT_WAITS && live->stage == LIVE_RUNNING && live_now(live) >= live_script_wake(live)) {
            resume(live, live->until_ns, CREW_SKIP, NULL);
        } else {
            break;
        }
    }
}

/* Nothing was expected of the player: most likely its process is gone. Whatever else it wishes, it has wished already. */
static void look_after(struct live *live)
{
    struct engine_player *player = live->run.play->player;
    struct engine_wish wish;
    player->collect(player->context, live->run.engine, 0, &wish);
    if (wish.kind != WISH_BROKEN)
        return;
    live->run.wish = wish;
    grant(live);
}

static void on_player(uv_poll_t *handle, int status, int events)
{
    struct live *live = handle->data;
    (void)status;
    (void)events;
    if (live->script == SCRIPT_WAITS || live->script == SCRIPT_ASKS)
        look_after(live);
    live_work(live);
}

void live_script_start(struct live *live)
{
    const struct engine_player *player = live->run.play->player;
    if (player->fd < 0 || live_fd_watch(live, &live->player_fd, player->fd, "script", on_player))
        resume(live, 0, CREW_SKIP, NULL);
}
