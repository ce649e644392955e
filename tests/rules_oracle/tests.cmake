# The shipped rules against a second implementation of them, and plan-drift against the plans, on generated shows.
find_package(Python3 REQUIRED COMPONENTS Interpreter)

add_test(NAME rules_oracle COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_LIST_DIR}/rules_oracle.py $<TARGET_FILE:rigcall_program>)
add_test(NAME rules_plans_told COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_LIST_DIR}/plans_told.py $<TARGET_FILE:rigcall_program>)
set_tests_properties(rules_oracle rules_plans_told PROPERTIES TIMEOUT 600
  ENVIRONMENT "ASAN_OPTIONS=detect_leaks=1;UBSAN_OPTIONS=print_stacktrace=1:halt_on_error=1")
