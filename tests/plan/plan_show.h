/* Shows for the planning tests, written as show files are. */
#ifndef RIGCALL_TESTS_PLAN_SHOW_H
#define RIGCALL_TESTS_PLAN_SHOW_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/plan.h"
#include "rigcall/showfile.h"

static inline struct show *show_from(const char *text)
{
    struct show *show;
    struct rig_why why;
    if (showfile_parse("test", text, strlen(text), &show, &why))
        fail_msg("%s", why.text);
    return show;
}

#endif
