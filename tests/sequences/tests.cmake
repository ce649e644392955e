# Tests that play sequences through the program and judge the capture, one Lua file each.
add_executable(run_lua ${CMAKE_CURRENT_LIST_DIR}/run_lua.c)
target_compile_definitions(run_lua PRIVATE
  RIGCALL_SOURCE_DIR="${PROJECT_SOURCE_DIR}" RIGCALL_PROGRAM="$<TARGET_FILE:rigcall_program>")
target_link_libraries(run_lua PRIVATE rigcall_options PkgConfig::LUA PkgConfig::JANSSON)
add_dependencies(run_lua rigcall_program)

file(GLOB lua_tests CONFIGURE_DEPENDS ${CMAKE_CURRENT_LIST_DIR}/test_*.lua ${CMAKE_CURRENT_LIST_DIR}/../examples/test_*.lua)
foreach(lua_test IN LISTS lua_tests)
  get_filename_component(name ${lua_test} NAME)
  add_test(NAME ${name} COMMAND run_lua ${lua_test} WORKING_DIRECTORY ${PROJECT_SOURCE_DIR})
  set_tests_properties(${name} PROPERTIES TIMEOUT 600
    ENVIRONMENT "ASAN_OPTIONS=detect_leaks=1;UBSAN_OPTIONS=print_stacktrace=1:halt_on_error=1")
endforeach()
