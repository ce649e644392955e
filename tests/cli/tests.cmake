# Beside the cmocka programs: installation, and the manual page against --help.
set(install_test_flags)
if(RIGCALL_SANITIZE)
  set(install_test_flags -fsanitize=address,undefined)
endif()
add_test(NAME install COMMAND ${CMAKE_CURRENT_SOURCE_DIR}/cli/install_test.sh
  ${CMAKE_COMMAND} ${PROJECT_BINARY_DIR} ${CMAKE_C_COMPILER} ${install_test_flags})
add_test(NAME manual COMMAND ${CMAKE_CURRENT_SOURCE_DIR}/cli/manual_test.sh $<TARGET_FILE:rigcall_program> ${PROJECT_SOURCE_DIR})

# The tour of the README, run as it is written.
find_package(Python3 REQUIRED COMPONENTS Interpreter)
add_test(NAME readme COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_SOURCE_DIR}/cli/readme_test.py
  ${PROJECT_SOURCE_DIR}/README.md ${PROJECT_BINARY_DIR})

# The table of keys for developers against the table that the reader goes by.
add_test(NAME developers_keys COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_SOURCE_DIR}/cli/keys_test.py ${PROJECT_SOURCE_DIR})
