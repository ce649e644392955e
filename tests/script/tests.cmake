# Some hundred scripts, most of which run into a limit of half a second of CPU time: slow on a busy machine.
set_tests_properties(test_script_hostile PROPERTIES TIMEOUT 1800)
