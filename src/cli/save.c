#include "save.h"

#include <stdlib.h>

#include "cli.h"

int save_show(const struct show *show, const char *path, struct rig_why *why)
{
    char *text = NULL;
    size_t length = 0;
    int err = showfile_read(path, SHOWFILE_BYTES, &text, &length, why);
    bool comments = !err && showfile_has_comments(text, length);
    free(text);
    if (!err)
        err = showfile_save(show, path, why);
    if (!err && comments)
        say("the comments of %s are not kept; they are still in %s~", path, path);
    return err;
}
