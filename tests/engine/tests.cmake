# Memory that runs out, on demand of the test.
foreach(call malloc calloc realloc)
  target_link_options(test_engine_faults PRIVATE -Wl,--wrap=${call})
endforeach()
