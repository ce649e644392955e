/* libFuzzer target: the engine's reader of what a script host says. Every octet is hostile; whatever comes, the reader answers with
 * checked records or a refusal. The first octet says which records are allowed. */
#include <stdlib.h>
#include <string.h>

#include "script/link.h"

static struct show *make_show(void)
{
    struct show *show = show_new();
    for (int64_t id = 1; id <= 4; id++)
        show_add_fixture(show)->id = id;
    show_add_universe(show)->id = 1;
    show_param(show, "red", 3);
    show_param(show, "green", 5);
    show_index(show);
    return show;
}

static void demand(bool held)
{
    if (!held)
        abort();
}

/* What a caller relies on. */
static void check(const struct show *show, const struct link_record *record)
{
    if (record->text) {
        demand(strlen(record->text) == record->length || memchr(record->text, '\0', record->length));
        demand(utf8_check(record->text, record->length) == record->length);
    }
    if (record->op == LINK_SET || record->op == LINK_FADE) {
        demand(record->fixture < show->fixture_count && record->param < show->param_count);
        demand(record->percent >= 0 && record->percent <= 100);
    }
    if (record->op == LINK_ASK)
        demand(record->fixture < show->fixture_count || record->fixture == SHOW_UNKNOWN);
    demand(record->plan == 0 || record->op == LINK_VERDICT);
    if (record->op == LINK_VERDICT)
        demand(record->text && record->length <= LINK_LINE_TEXT);
    if (record->op == LINK_FINDING)
        for (uint32_t i = 0; i < record->other_count; i++)
            demand(record->others[i].kind <= SUBJECT_UNIVERSE);
    if (record->op == LINK_ABOUT)
        demand(record->about->param_count <= 32 && memchr(record->about->name, '\0', sizeof record->about->name));
}

int LLVMFuzzerTestOneInput(const unsigned char *data, size_t size)
{
    static struct link_reader reader;
    static struct show *show;
    static const unsigned allowed[] = { LINK_ALLOW_LOAD, LINK_ALLOW_RULE, LINK_ALLOW_SEQUENCE, ~0u, LINK_ALLOW_SWAP };
    struct link_record record;
    if (!show)
        show = make_show();
    if (size == 0)
        return 0;
    reader.show = show;
    reader.allowed = allowed[data[0] % 5];
    if (link_open(&reader, data + 1, size - 1, NULL))
        return 0;
    while (link_next(&reader, &record, NULL) == 1)
        check(show, &record);
    return 0;
}
