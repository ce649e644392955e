/* Join codes for the transmitters that go on the air. */
#include "patch_internal.h"

int patch__codes(struct patch *patch)
{
    const char **taken = patch__alloc(patch, patch->transmitter_count, sizeof *taken);
    uint32_t count = 0;
    if (!taken)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < patch->transmitter_count; i++) {
        struct patch_transmitter *tx = &patch->transmitters[i];
        const char *now = patch->show->transmitters[tx->index].code;
        char fresh[9];
        if (!now && tx->used)
            plan_fresh_code(patch->show, taken, count, fresh);
        if ((now || tx->used) && !(tx->code = plan__text(patch->plan, "%s", now ? now : fresh)))
            return RIG_ENOMEM;
        if (!now && tx->used)
            taken[count++] = tx->code;
    }
    return 0;
}
