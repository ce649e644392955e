# A C table of the SHA-256 of every shipped script. CMake runs again when one of them changes, comes or goes.
file(GLOB shipped_scripts CONFIGURE_DEPENDS
  ${PROJECT_SOURCE_DIR}/scripts/rules/*.lua ${PROJECT_SOURCE_DIR}/scripts/sequences/*.lua ${PROJECT_SOURCE_DIR}/scripts/swaps/*.lua
  ${PROJECT_SOURCE_DIR}/scripts/sheets/*.lua ${PROJECT_SOURCE_DIR}/scripts/wire/*.lua ${PROJECT_SOURCE_DIR}/scripts/lib/*.lua)
set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${shipped_scripts})

set(shipped_rows)
foreach(shipped_script IN LISTS shipped_scripts)
  file(SHA256 ${shipped_script} shipped_hash)
  string(REGEX REPLACE "(..)" "0x\\1, " shipped_row ${shipped_hash})
  file(RELATIVE_PATH shipped_name ${PROJECT_SOURCE_DIR} ${shipped_script})
  string(APPEND shipped_rows "    { ${shipped_row}},  /* ${shipped_name} */\n")
endforeach()
list(LENGTH shipped_scripts shipped_count)
file(CONFIGURE OUTPUT ${PROJECT_BINARY_DIR}/generated/shipped.c @ONLY CONTENT [=[
#include "script/shipped.h"

const size_t script__shipped_count = @shipped_count@;
const unsigned char script__shipped[][32] = {
@shipped_rows@    { 0 }   /* not counted: an array is never empty */
};
]=])
target_sources(rigcall PRIVATE ${PROJECT_BINARY_DIR}/generated/shipped.c)
set_source_files_properties(${PROJECT_BINARY_DIR}/generated/shipped.c PROPERTIES INCLUDE_DIRECTORIES ${PROJECT_SOURCE_DIR}/src)
set_source_files_properties(${PROJECT_SOURCE_DIR}/src/script/script_list.c PROPERTIES
  COMPILE_DEFINITIONS RIGCALL_SCRIPTS_SOURCE="${PROJECT_SOURCE_DIR}/scripts")
