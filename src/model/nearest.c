#include "rigcall/nearest.h"

#include <stdint.h>
#include <string.h>

#define NAME_LIMIT 63

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Optimal string alignment: Levenshtein's rows, and one more row back for a swap of neighbours. */
size_t name_distance(const char *a, const char *b)
{
    size_t n = strlen(a), m = strlen(b);
    if (n > NAME_LIMIT || m > NAME_LIMIT)
        return SIZE_MAX;
    size_t rows[3][NAME_LIMIT + 1];
    size_t *before = rows[0], *above = rows[1], *row = rows[2];
    for (size_t j = 0; j <= m; j++)
        above[j] = j;
    for (size_t i = 1; i <= n; i++) {
        row[0] = i;
        for (size_t j = 1; j <= m; j++) {
            row[j] = least(least(above[j], row[j - 1]) + 1, above[j - 1] + (a[i - 1] != b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = least(row[j], before[j - 2] + 1);
        }
        size_t *free_row = before;
        before = above;
        above = row;
        row = free_row;
    }
    return above[m];
}

const char *nearest_name(const char *typed, const char *(*name_at)(const void *context, size_t i), const void *context)
{
    const char *best = NULL, *name;
    size_t best_distance = SIZE_MAX;
    for (size_t i = 0; (name = name_at(context, i)); i++) {
        size_t distance = name_distance(typed, name);
        if (distance < best_distance) {
            best = name;
            best_distance = distance;
        }
    }
    return best && best_distance <= 1 + strlen(typed) / 3 ? best : NULL;
}
