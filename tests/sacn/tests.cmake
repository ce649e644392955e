# Without the right to make a network namespace these are skipped, and say so.
set_tests_properties(test_sacn_look test_sacn_cables test_sacn_receiver test_sacn_receiver_limits PROPERTIES SKIP_RETURN_CODE 77)

# What fuzzing has found is run again by every test run; the fuzzer itself is built with the preset "fuzz".
add_executable(fuzz_replay_sacn ${PROJECT_SOURCE_DIR}/tests/sacn/fuzz_replay.c ${PROJECT_SOURCE_DIR}/tests/sacn/fuzz_parse.c)
target_link_libraries(fuzz_replay_sacn PRIVATE rigcall rigcall_options)
add_test(NAME sacn_parse_corpus COMMAND fuzz_replay_sacn ${PROJECT_SOURCE_DIR}/tests/sacn/corpus)
add_executable(fuzz_replay_sacn_table ${PROJECT_SOURCE_DIR}/tests/sacn/fuzz_replay.c ${PROJECT_SOURCE_DIR}/tests/sacn/fuzz_table.c)
target_link_libraries(fuzz_replay_sacn_table PRIVATE rigcall rigcall_options m)
add_test(NAME sacn_table_corpus COMMAND fuzz_replay_sacn_table ${PROJECT_SOURCE_DIR}/tests/sacn/corpus_table)

if(RIGCALL_FUZZ)
  # The parser is compiled again here, with coverage, ahead of the library's copy.
  add_executable(fuzz_sacn_parse ${PROJECT_SOURCE_DIR}/tests/sacn/fuzz_parse.c
    ${PROJECT_SOURCE_DIR}/src/sacn/sacn_parse.c ${PROJECT_SOURCE_DIR}/src/sacn/sacn_packet.c ${PROJECT_SOURCE_DIR}/src/model/utf8.c)
  target_compile_options(fuzz_sacn_parse PRIVATE -fsanitize=fuzzer)
  target_link_options(fuzz_sacn_parse PRIVATE -fsanitize=fuzzer)
  target_link_libraries(fuzz_sacn_parse PRIVATE rigcall rigcall_options)

  file(GLOB table_sources CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/src/sacn/sacn_table*.c)
  add_executable(fuzz_sacn_table ${PROJECT_SOURCE_DIR}/tests/sacn/fuzz_table.c ${table_sources}
    ${PROJECT_SOURCE_DIR}/src/sacn/sacn_parse.c ${PROJECT_SOURCE_DIR}/src/sacn/sacn_packet.c ${PROJECT_SOURCE_DIR}/src/model/utf8.c)
  target_include_directories(fuzz_sacn_table PRIVATE ${PROJECT_SOURCE_DIR}/src)
  target_compile_options(fuzz_sacn_table PRIVATE -O1 -fsanitize=fuzzer)
  target_link_options(fuzz_sacn_table PRIVATE -fsanitize=fuzzer)
  target_link_libraries(fuzz_sacn_table PRIVATE rigcall rigcall_options m)
endif()

# Memory that is counted, and runs out on demand of the test.
foreach(call malloc calloc realloc free)
  target_link_options(test_sacn_table_limits PRIVATE -Wl,--wrap=${call})
endforeach()
