/* "Did you mean": the nearest of some known names to a mistyped one. */
#ifndef RIGCALL_NEAREST_H
#define RIGCALL_NEAREST_H

#include <stddef.h>

/** Edit distance of two names (insert, delete, change, swap of neighbours), octets; names over 63 octets are SIZE_MAX apart. */
size_t name_distance(const char *a, const char *b);
/** @param name_at  gives the i-th name, or NULL past the last. @return the nearest, or NULL when none is a slip of the finger away */
const char *nearest_name(const char *typed, const char *(*name_at)(const void *context, size_t i), const void *context);

#endif
