/* Fuzzes the show file reader. What it takes must be written, read back and written to the same octets. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "rigcall/showfile.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void fail_if(bool wrong)
{
    if (wrong)
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct show *show, *again;
    struct rig_why why = { 0 };
    char *text, *second;
    size_t length, second_length;
    int err = showfile_parse("fuzz", (const char *)data, size, &show, &why);
    showfile_has_comments((const char *)data, size);
    if (err) {
        fail_if(err != why.code || why.line < 1 || why.column < 1 || utf8_check(why.text, strlen(why.text)) != strlen(why.text));
        return 0;
    }
    showfile_require_sound(show, "fuzz", &why);
    fail_if(showfile_format(show, &text, &length, &why) != 0);
    fail_if(showfile_parse("fuzz", text, length, &again, &why) != 0);
    fail_if(showfile_format(again, &second, &second_length, &why) != 0);
    fail_if(length != second_length || memcmp(text, second, length) != 0);
    free(text);
    free(second);
    show_free(show);
    show_free(again);
    return 0;
}
