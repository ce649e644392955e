/* What was heard, as a table for people. */
#include <string.h>

#include "listen.h"

struct page { FILE *out; unsigned left; bool endless, colour; };

#define FOOT 2u                      /* lines kept for the last line and what did not fit */

const char *listen_state_name(enum sacn_source_state state)
{
    static const char *const names[] = { "live", "ended", "lost" };
    return names[state];
}

static bool has_line(struct page *page)
{
    if (page->endless)
        return true;
    if (page->left <= FOOT)
        return false;
    page->left--;
    return true;
}

static const char *role(const struct sacn_heard_source *source, const struct sacn_heard *heard)
{
    if (source->state != SACN_LIVE)
        return listen_state_name(source->state);
    if (source->preview)
        return "preview";
    return source->wins ? heard->winners > 1 ? "merged" : "wins" : "waits";
}

static void print_source(struct page *page, const struct sacn_heard *heard, const struct sacn_heard_source *source)
{
    char address[SACN_ADDRESS_TEXT], rate[32] = "-";       /* "-": not known in the first second, none any more */
    sacn_address_text(&source->from, address);
    if (source->rate_hz > 0)
        snprintf(rate, sizeof rate, "%.1f", source->rate_hz);
    fprintf(page->out, "%8u  %8u  %6s  %6.1f  %7llu  %-7s  \"%s\" at %s\n", heard->universe, source->priority, rate,
            source->jitter_ms, (unsigned long long)source->missing, role(source, heard), source->name, address);
}

/* @return lines that found no place */
static unsigned print_universes(struct page *page, const struct listening *heard)
{
    const uint16_t *universes;
    struct sacn_heard universe;
    unsigned more = 0;
    size_t count = sacn_table_universes(heard->table, &universes);
    if (count && has_line(page))
        fprintf(page->out, "universe  priority  rate/s  jitter  missing  role     source\n");
    for (size_t i = 0; i < count; i++) {
        if (!sacn_table_universe(heard->table, universes[i], &universe))
            continue;
        for (uint32_t s = 0; s < universe.source_count; s++)
            if (has_line(page))
                print_source(page, &universe, universe.sources[s]);
            else
                more++;
    }
    return more;
}

static unsigned print_faults(struct page *page, const struct wire_faults *faults)
{
    unsigned more = 0;
    for (size_t i = 0; i < faults->count; i++) {
        const struct wire_fault *fault = &faults->items[i];
        const char *on = page->colour ? fault->fail ? "\033[31m" : "\033[33m" : "", *off = page->colour ? "\033[0m" : "";
        if (has_line(page))
            fprintf(page->out, "%s%s%s %s\n", on, fault->fail ? "FAIL" : "WARN", off, fault->text);
        else
            more++;
    }
    return more;
}

static const char *plural(size_t count)
{
    return count == 1 ? "" : "s";
}

static void print_state(const struct page *page, const struct listening *heard, const struct wire_faults *faults)
{
    const struct sacn_counts *counts = sacn_table_counts(heard->table);
    const uint16_t *universes;
    size_t count = sacn_table_universes(heard->table, &universes);
    uint64_t bad = 0;
    for (int i = SACN_BAD_ROOT; i <= SACN_BAD_VALUE; i++)
        bad += counts->bad[i];
    fprintf(page->out, "%.1f s: %zu universe%s heard, %zu fail%s, %zu warning%s", heard->seconds, count, plural(count), faults->fails,
            plural(faults->fails), faults->count - faults->fails, plural(faults->count - faults->fails));
    if (bad)
        fprintf(page->out, ", %llu malformed packet%s", (unsigned long long)bad, plural(bad));
    if (counts->turned_away)
        fprintf(page->out, ", %llu packets of too many sources", (unsigned long long)counts->turned_away);
    if (heard->receiver.dropped)
        fprintf(page->out, ", %llu dropped by this machine", (unsigned long long)heard->receiver.dropped);
    fputc('\n', page->out);
}

void listen_print_text(const struct listening *heard, const struct wire_faults *faults, unsigned rows, bool colour, FILE *out)
{
    struct page page = { .out = out, .left = rows, .endless = rows == 0, .colour = colour };
    unsigned more = print_faults(&page, faults);
    more += print_universes(&page, heard);
    if (more)
        fprintf(out, "and %u more lines\n", more);
    print_state(&page, heard, faults);
}
