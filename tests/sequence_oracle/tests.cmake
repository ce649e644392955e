# Sequences played dry against what scripts/README.md promises of them.
find_package(Python3 REQUIRED COMPONENTS Interpreter)

add_test(NAME sequence_oracle_tracks
  COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_LIST_DIR}/tracks.py $<TARGET_FILE:rigcall_program>)
set_tests_properties(sequence_oracle_tracks PROPERTIES TIMEOUT 600
  ENVIRONMENT "ASAN_OPTIONS=detect_leaks=1;UBSAN_OPTIONS=print_stacktrace=1:halt_on_error=1")
