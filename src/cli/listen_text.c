/* What was heard, as a table for people. */
#include <inttypes.h>
#include <string.h>

#include "listen.h"

struct page { FILE *out; const struct listen_page *of; unsigned left; };

#define FOOT 2u                      /* lines kept for the last line and what did not fit */
#define LINE_SIZE 1400u              /* more than a warning or the text of a fault */
#define LABEL_WIDTH 20u

/* Characters that are not ASCII are counted as two columns, which none is wider than. */
static unsigned rows_of(const char *line, unsigned columns)
{
    unsigned width = 0;
    for (; *line; line++)
        width += ((unsigned char)*line & 0xc0) == 0x80 ? 0 : (unsigned char)*line < 0x80 ? 1 : 2;
    return width ? (width + columns - 1) / columns : 1;
}

/* @return whether there was room for it */
static bool put_line(struct page *page, const char *colour, const char *line)
{
    if (page->of->rows) {
        unsigned rows = rows_of(line, page->of->columns);
        if (page->left < rows + FOOT)
            return false;
        page->left -= rows;
    }
    colour = page->of->colour ? colour : "";
    fprintf(page->out, "%s%s%s\n", colour, line, *colour ? "\033[0m" : "");
    return true;
}

static const char *role(const struct sacn_heard_source *source, const struct sacn_heard *heard)
{
    if (source->state != SACN_LIVE)
        return sacn_source_state_name(source->state);
    if (source->preview)
        return "preview";
    return source->wins ? heard->winners > 1 ? "merged" : "wins" : "waits";
}

#define LABEL_SIZE (5 * LABEL_WIDTH + 1)          /* of characters of four octets, and blanks */

/* What the show calls a universe, in LABEL_WIDTH characters. */
static void label_of(const struct universe *universe, uint16_t wire, char out[LABEL_SIZE])
{
    char name[256] = "-";
    const char *label = universe && universe->label ? universe->label : "";
    if (universe && universe->id != wire)
        snprintf(name, sizeof name, "%" PRId64 " %.200s", universe->id, label);
    else if (universe)
        snprintf(name, sizeof name, "%.200s", label);
    wire_clean(name);
    size_t length = utf8_cut(name, strlen(name), sizeof name), end = 0, width = 0;
    for (; end < length; end++) {
        bool begins = ((unsigned char)name[end] & 0xc0) != 0x80;
        if (begins && width == LABEL_WIDTH)
            break;
        width += begins;
    }
    memcpy(out, name, end);
    memset(out + end, ' ', LABEL_WIDTH - width);
    out[end + LABEL_WIDTH - width] = '\0';
}

static bool put_source(struct page *page, const struct sacn_heard *heard, const struct sacn_heard_source *source, const char *label)
{
    char line[LINE_SIZE], address[SACN_ADDRESS_TEXT], rate[32] = "-", sync[32] = "";   /* "-": not known yet, or none any more */
    sacn_address_text(&source->from, address);
    if (source->rate_hz > 0)
        snprintf(rate, sizeof rate, "%.1f", source->rate_hz);
    if (source->sync_address)
        snprintf(sync, sizeof sync, ", sync %u", source->sync_address);
    snprintf(line, sizeof line, "%8u  %s%s%8u  %6s  %6.1f  %7llu  %-7s  \"%s\" at %s%s", heard->universe, label, *label ? "  " : "",
             source->priority, rate, source->jitter_ms, (unsigned long long)source->missing, role(source, heard), source->name, address,
             sync);
    return put_line(page, "", line);
}

/* @return lines that found no place */
static unsigned print_universes(struct page *page, const struct listening *heard, const struct wire_show *wire)
{
    const uint16_t *universes;
    struct sacn_heard universe;
    char label[LABEL_SIZE] = "", line[LINE_SIZE];
    unsigned more = 0;
    size_t count = sacn_table_universes(heard->table, &universes);
    snprintf(line, sizeof line, "universe  %spriority  rate/s  jitter  missing  role     source",
             wire->show ? "of the show           " : "");
    if (count)
        put_line(page, "", line);
    for (size_t i = 0; i < count; i++) {
        if (!sacn_table_universe(heard->table, universes[i], &universe))
            continue;
        if (wire->show)
            label_of(wire->of[universes[i]], universes[i], label);
        for (uint32_t s = 0; s < universe.source_count; s++)
            more += !put_source(page, &universe, universe.sources[s], label);
    }
    return more;
}

static unsigned print_faults(struct page *page, const struct wire_faults *faults, enum severity severity)
{
    static const char *const words[] = { "FAIL", "WARN", "NOTE" }, *const colours[] = { "\033[31m", "\033[33m", "" };
    char line[LINE_SIZE];
    unsigned more = 0;
    for (size_t i = 0; i < faults->count; i++) {
        if (faults->items[i].severity != severity)
            continue;
        snprintf(line, sizeof line, "%s %s", words[severity], faults->items[i].text);
        more += !put_line(page, colours[severity], line);
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
    size_t count = sacn_table_universes(heard->table, &universes), fails = faults->of[SEVERITY_FAIL];
    size_t warns = faults->of[SEVERITY_WARN], notes = faults->of[SEVERITY_NOTE];
    uint64_t bad = 0;
    for (int i = SACN_BAD_ROOT; i <= SACN_BAD_VALUE; i++)
        bad += counts->bad[i];
    fprintf(page->out, "%.1f s: %zu universe%s heard, %zu fail%s, %zu warning%s, %zu note%s", heard->seconds, count, plural(count),
            fails, plural(fails), warns, plural(warns), notes, plural(notes));
    if (bad)
        fprintf(page->out, ", %llu malformed packet%s", (unsigned long long)bad, plural(bad));
    if (counts->turned_away)
        fprintf(page->out, ", %llu packets of too many sources", (unsigned long long)counts->turned_away);
    if (heard->receiver.dropped)
        fprintf(page->out, ", %llu dropped by this machine", (unsigned long long)heard->receiver.dropped);
    fputc('\n', page->out);
}

void listen_print_text(const struct listening *heard, const struct wire_show *wire, const struct wire_faults *faults,
                       const struct listen_page *page_of, FILE *out)
{
    struct page page = { .out = out, .of = page_of, .left = page_of->rows };
    char line[LINE_SIZE];
    size_t all = faults->of[SEVERITY_FAIL] + faults->of[SEVERITY_WARN] + faults->of[SEVERITY_NOTE];
    size_t more = all - faults->count;
    snprintf(line, sizeof line, "rigcall: %s", heard->warning);
    if (page_of->rows && *heard->warning)        /* elsewhere it is said on standard error */
        put_line(&page, "", line);
    more += print_faults(&page, faults, SEVERITY_FAIL);
    more += print_faults(&page, faults, SEVERITY_WARN);
    more += print_universes(&page, heard, wire);
    more += print_faults(&page, faults, SEVERITY_NOTE);
    if (more)
        fprintf(out, "and %zu more line%s\n", more, plural(more));
    print_state(&page, heard, faults);
}
