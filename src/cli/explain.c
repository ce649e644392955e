#include "explain.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "rigcall/showfile.h"

static int longest_stem(const struct script_list *list)
{
    size_t width = 0;
    for (size_t i = 0; i < list->count; i++)
        if (strlen(list->items[i].stem) > width)
            width = strlen(list->items[i].stem);
    return (int)width;
}

static int print_list(const struct find_kind *kind, const struct show *show, const char *show_path, struct rig_why *why)
{
    struct script_list list = { 0 };
    int err = find_known(kind, show_path, &list, why), width = longest_stem(&list);
    if (!err)
        printf("%c%s, the shipped ones and those in %s/ beside the show:\n", toupper(kind->plural[0]), kind->plural + 1, kind->folder);
    for (size_t i = 0; !err && i < list.count; i++) {
        struct script_about about;
        struct rig_why broken;
        bool loads = !script_describe(show, &list.items[i], &about, &broken);
        printf("  %-*s  %s\n", width, list.items[i].stem, loads ? about.about : broken.text);
    }
    script_list_free(&list);
    return err;
}

/* "0.5 to 60 s", "one of white red", "true or false". */
static void describe_range(const struct script_param *param, char *text, size_t size)
{
    const char *space = *param->unit ? " " : "";
    bool least = !isnan(param->least), most = !isnan(param->most);
    if (param->type == PARAM_BOOLEAN)
        snprintf(text, size, "true or false");
    else if (param->type == PARAM_CHOICE)
        snprintf(text, size, "one of %s", param->choices);
    else if (param->type == PARAM_TEXT)
        snprintf(text, size, "text");
    else if (least && most)
        snprintf(text, size, "%.10g to %.10g%s%s", param->least, param->most, space, param->unit);
    else if (least || most)
        snprintf(text, size, "%s %.10g%s%s", least ? "from" : "up to", least ? param->least : param->most, space, param->unit);
    else
        snprintf(text, size, "%s%s%s", param->type == PARAM_INTEGER ? "a whole number" : "a number", *param->unit ? " of " : "", param->unit);
}

static void print_params(const struct script_about *about)
{
    int width = 0;
    for (uint32_t i = 0; i < about->param_count; i++)
        if ((int)strlen(about->params[i].name) > width)
            width = (int)strlen(about->params[i].name);
    puts(about->param_count ? "\nParameters, set by --set NAME=VALUE:" : "\nIt has no parameters.");
    for (uint32_t i = 0; i < about->param_count; i++) {
        const struct script_param *param = &about->params[i];
        char range[256];
        describe_range(param, range, sizeof range);
        printf("  %-*s  %s%s(%s%s%s)\n", width, param->name, param->help, *param->help ? " " : "", range,
               *param->default_text ? "; default " : "", param->default_text);
    }
}

static int print_one(const struct find_kind *kind, const struct show *show, const char *show_path, const char *name, struct rig_why *why)
{
    struct script_list list = { 0 };
    struct script_about about;
    int err = find_script(kind, name, show_path, &list, why);
    if (!err)
        err = script_describe(show, &list.items[0], &about, why);
    if (!err && about.kind != kind->kind)
        err = rig_fail(why, RIG_ESCRIPT, "%s: is a %s, not a %s", list.items[0].path, script_kind_name(about.kind), kind->word);
    if (!err) {
        printf("%s%s%s\n", about.name, *about.about ? ": " : "", about.about);
        print_params(&about);
    }
    script_list_free(&list);
    return err;
}

int explain_scripts(const struct find_kind *kind, const char *show_path, const char *name)
{
    struct show *show = NULL;
    struct rig_why why;
    int err = showfile_load(show_path, &show, &why);
    if (!err)
        err = name ? print_one(kind, show, show_path, name, &why) : print_list(kind, show, show_path, &why);
    show_free(show);
    return err ? say_failure(&why) : 0;
}
