/* Scripts that a command is given by name: which file is meant, and its parameters. */
#ifndef RIGCALL_CLI_FIND_H
#define RIGCALL_CLI_FIND_H

#include "options.h"
#include "rigcall/script.h"

/* A kind of script that has a folder among the shipped ones and beside the show. */
struct find_kind { enum script_kind kind; const char *word, *plural, *folder; };
extern const struct find_kind find_sequence, find_policy;

/** Find by shipped name, by a name in the folder beside the show, or by path, and read it.
 * @param list  gets one script. @return 0, RIG_EUSAGE (no such name, or two of it), RIG_EIO, RIG_EINPUT, RIG_ENOMEM */
int find_script(const struct find_kind *kind, const char *name, const char *show_path, struct script_list *list, struct rig_why *why);
/** All that have a name. @param list  free with script_list_free() in either case. @return 0, RIG_EIO, RIG_EINPUT, RIG_ENOMEM */
int find_known(const struct find_kind *kind, const char *show_path, struct script_list *list, struct rig_why *why);

/** The values of --set P=V, unchecked but for the =. @param out  malloc'd; free with find_sets_free() in either case
 * @param command  for messages. @return 0, RIG_EUSAGE, RIG_ENOMEM */
int find_sets(const struct options *options, const char *command, struct script_set **out, size_t *count, struct rig_why *why);
void find_sets_free(struct script_set *sets, size_t count);

#endif
