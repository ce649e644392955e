/* The hashes of the shipped scripts, made by CMake (shipped.cmake). */
#ifndef RIGCALL_SCRIPT_SHIPPED_H
#define RIGCALL_SCRIPT_SHIPPED_H

#include <stddef.h>

extern const unsigned char script__shipped[][32];
extern const size_t script__shipped_count;

#endif
