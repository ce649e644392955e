/* Join codes that a plan may hand out. */
#include <stdio.h>
#include <string.h>

#include "plan_internal.h"

#define CODES 100000000u             /* eight decimal digits */
#define STRIDE 61803399u             /* 10^8 x (golden ratio - 1); odd and no multiple of 5, so that the walk meets every code once */

bool plan__is_code(const char *code)
{
    return strlen(code) == 8 && strspn(code, "0123456789") == 8;
}

bool plan_code_guessable(const char *code)
{
    bool same = true;
    if (!plan__is_code(code))
        return false;
    for (int i = 1; i < 8; i++)
        same &= code[i] == code[0];
    return same || strstr("0123456789", code) || strstr("9876543210", code);
}

/* FNV-1a, 64 bit: where the walk of this show begins. */
static uint64_t mix(uint64_t hash, const char *text)
{
    for (; text && *text; text++)
        hash = (hash ^ (unsigned char)*text) * UINT64_C(0x100000001b3);
    return hash;
}

static bool is_free(const struct show *show, const char *const *taken, uint32_t taken_count, const char *code)
{
    uint32_t transmitters, fixtures;
    show_code_transmitters(show, code, &transmitters);
    show_code_fixtures(show, code, &fixtures);
    if (transmitters || fixtures || plan_code_guessable(code))
        return false;
    for (uint32_t i = 0; i < taken_count; i++)
        if (taken[i] && !strcmp(taken[i], code))
            return false;
    return true;
}

static uint32_t start_of(const struct show *show)
{
    uint64_t hash = mix(UINT64_C(0xcbf29ce484222325), show->name);
    return (uint32_t)(mix(hash ^ 0x1f, show->date) % CODES);
}

static uint32_t step_on(uint32_t at)
{
    return (uint32_t)(((uint64_t)at + STRIDE) % CODES);
}

void plan_fresh_code(const struct show *show, const char *const *taken, uint32_t taken_count, char code[9])
{
    uint32_t at = start_of(show);
    do {                             /* a show has far fewer transmitters and fixtures than there are codes */
        snprintf(code, 9, "%08u", at % CODES);
        at = step_on(at);
    } while (!is_free(show, taken, taken_count, code));
}

void plan__fresh_codes(const struct show *show, uint32_t count, char (*codes)[9])
{
    uint32_t at = start_of(show);
    for (uint32_t i = 0; i < count; at = step_on(at)) {
        snprintf(codes[i], sizeof codes[i], "%08u", at % CODES);
        i += is_free(show, NULL, 0, codes[i]);
    }
}
