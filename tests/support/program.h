/* Running the built rigcall program (or another) from a test, without a terminal or with one of its own. */
#ifndef RIGCALL_TESTS_PROGRAM_H
#define RIGCALL_TESTS_PROGRAM_H

#include <stddef.h>
#include <sys/types.h>

struct program_result { int status; char *out, *err; size_t out_length; };

/** Run a program to its end in a session of its own: no terminal, standard input empty.
 * @param arguments  NULL-terminated, arguments[0] is the program
 * @return its exit status (128 + signal when one ended it) and all it printed; free with program_result_fini() */
struct program_result program_run(const char *const *arguments);
void program_result_fini(struct program_result *result);

/* A program with a terminal of its own as standard input, output, error and /dev/tty. */
struct program_terminal { pid_t pid; int fd; char *seen; size_t length; };
struct program_terminal program_start_terminal(const char *const *arguments);
/** Read until `text` has been seen beyond what was matched before; fails the test at the end of output. */
void program_expect(struct program_terminal *terminal, const char *text);
void program_type(struct program_terminal *terminal, const char *text);
/** Read to the end. @return exit status; all output is in terminal->seen, which the caller frees */
int program_end(struct program_terminal *terminal);

/** Make an empty folder, its path malloc'd; and remove it with all in it. */
char *program_folder_new(void);
void program_folder_remove(char *path);
/** folder/name with this text. @return the path, malloc'd */
char *program_file(const char *folder, const char *name, const char *text);
/** Whole file, NUL-terminated, malloc'd; NULL when there is none. */
char *program_read(const char *path);

#endif
