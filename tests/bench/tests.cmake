# Programs that measure; none of them is a test. Ask for them with -DRIGCALL_BENCH=ON (preset "bench").
if(RIGCALL_BENCH)
  file(GLOB bench_sources CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/bench/bench_*.c)
  foreach(source IN LISTS bench_sources)
    get_filename_component(name ${source} NAME_WE)
    add_executable(${name} ${source})
    target_compile_definitions(${name} PRIVATE
      RIGCALL_SOURCE_DIR="${PROJECT_SOURCE_DIR}" RIGCALL_PROGRAM="$<TARGET_FILE:rigcall_program>")
    target_link_libraries(${name} PRIVATE rigcall rigcall_options m)
    add_dependencies(${name} rigcall_program)
  endforeach()
endif()
