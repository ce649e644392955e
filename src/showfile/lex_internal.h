/* Shared by the two parts of the lexer. */
#ifndef RIGCALL_SHOWFILE_LEX_INTERNAL_H
#define RIGCALL_SHOWFILE_LEX_INTERNAL_H

#include "showfile_internal.h"

/** Level of a long bracket that opens at `at` ("[[" 0, "[=[" 1, …), or -1. */
long showfile__bracket_level(const char *at, const char *end);
/** The closing bracket of a long bracket whose content starts at `at`, or NULL. */
const char *showfile__bracket_close(const char *at, const char *end, long level);
/** Fail at an octet that is not UTF-8. @param what  it is in */
int showfile__wrong_utf8(struct lexer *lexer, const char *at, const char *what);
/** Read the text that begins with a quote at lexer->at. */
int showfile__quoted_text(struct lexer *lexer);
/** Read the long text that opens at lexer->at. */
int showfile__long_text(struct lexer *lexer, long level);

#endif
