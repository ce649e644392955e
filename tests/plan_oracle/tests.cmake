# Swaps against an independent optimiser: glpsol (Debian glpk-utils). Skipped where it is missing.
find_package(Python3 REQUIRED COMPONENTS Interpreter)

function(plan_oracle_test name script)
  add_test(NAME ${name} COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_FUNCTION_LIST_DIR}/${script} ${ARGN})
  set_tests_properties(${name} PROPERTIES SKIP_RETURN_CODE 77 TIMEOUT 900)
endfunction()

plan_oracle_test(plan_oracle_reference reference_test.py)
plan_oracle_test(plan_oracle_swap compare.py $<TARGET_FILE:rigcall_program> --least 300)
