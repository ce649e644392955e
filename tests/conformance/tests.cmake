# Checks against programs and libraries that are not ours. Each is skipped, with its reason, where what it needs is missing.
find_package(Python3 REQUIRED COMPONENTS Interpreter)

add_executable(conformance_packets ${CMAKE_CURRENT_LIST_DIR}/conformance_packets.c)
target_link_libraries(conformance_packets PRIVATE rigcall rigcall_options PkgConfig::UUID)

function(conformance_test name script)
  add_test(NAME ${name} COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_FUNCTION_LIST_DIR}/${script} ${ARGN})
  set_tests_properties(${name} PROPERTIES SKIP_RETURN_CODE 77 TIMEOUT 600)
endfunction()

conformance_test(conformance_tshark_reads_our_packets tshark_packets.py $<TARGET_FILE:conformance_packets>)
conformance_test(conformance_tshark_reads_a_dry_run dry_run.py $<TARGET_FILE:rigcall_program>)
conformance_test(conformance_npm_sacn_receives_a_live_run npm_receiver.py $<TARGET_FILE:rigcall_program>
  ${PROJECT_SOURCE_DIR}/.build/npm)
conformance_test(conformance_multicast_and_rivals multicast.py $<TARGET_FILE:rigcall_program>)
conformance_test(conformance_listen_hears_made_up_sources listen.py $<TARGET_FILE:rigcall_program>)
conformance_test(conformance_npm_sacn_sends_to_us npm_sender.py $<TARGET_FILE:rigcall_program>
  ${PROJECT_SOURCE_DIR}/.build/npm)
conformance_test(conformance_newer_tshark_reads_all_packet_types newer_tshark.py $<TARGET_FILE:rigcall_program>)

add_executable(bad_cable ${CMAKE_CURRENT_LIST_DIR}/bad_cable.c)
target_link_libraries(bad_cable PRIVATE rigcall_options)
conformance_test(conformance_a_bad_cable_is_counted bad_cable.py $<TARGET_FILE:rigcall_program> $<TARGET_FILE:bad_cable> 6 16 2)
# Ten minutes, 256 universes, 1 % of each fault.
add_custom_target(soak COMMAND Python3::Interpreter -B ${CMAKE_CURRENT_LIST_DIR}/bad_cable.py $<TARGET_FILE:rigcall_program>
  $<TARGET_FILE:bad_cable> 600 256 1 USES_TERMINAL VERBATIM)
