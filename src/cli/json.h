/* Text for JSON. */
#ifndef RIGCALL_CLI_JSON_H
#define RIGCALL_CLI_JSON_H

#include <jansson.h>

/** A JSON string of text that may not be UTF-8 (a path): wrong octets become '?'. NULL when memory is short. */
json_t *json_from_text(const char *text);

#endif
