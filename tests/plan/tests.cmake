# Tests against an independent optimiser are skipped where it is missing.
set_tests_properties(test_plan_patch_glpsol PROPERTIES SKIP_RETURN_CODE 77)
