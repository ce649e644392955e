# Memory that runs out and calls that fail, on demand of the test.
foreach(call malloc calloc realloc reallocarray strdup strndup open mkostemp write fchmod fsync close link rename)
  target_link_options(test_showfile_faults PRIVATE -Wl,--wrap=${call})
endforeach()
