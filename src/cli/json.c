#include "json.h"

#include <stdlib.h>
#include <string.h>

#include "rigcall/model.h"

json_t *json_from_text(const char *text)
{
    char *clean = strdup(text);
    size_t length = strlen(text), at = 0;
    while (clean && (at += utf8_check(clean + at, length - at)) < length)
        clean[at++] = '?';
    json_t *json = clean ? json_string(clean) : NULL;
    free(clean);
    return json;
}
