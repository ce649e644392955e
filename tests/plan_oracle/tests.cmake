# Swaps against an independent optimiser: glpsol (Debian glpk-utils). Skipped where it is missing.
find_package(Python3 REQUIRED COMPONENTS Interpreter)

add_test(NAME plan_oracle_reference COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_LIST_DIR}/reference_test.py)
set_tests_properties(plan_oracle_reference PROPERTIES SKIP_RETURN_CODE 77 TIMEOUT 600)

add_test(NAME plan_oracle_swap COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_LIST_DIR}/compare.py $<TARGET_FILE:rigcall_program>)
set_tests_properties(plan_oracle_swap PROPERTIES SKIP_RETURN_CODE 77 TIMEOUT 900)
