-- A finding while the script loads.
-- play: rule
-- expect: works only inside run
fail(rig.get("fixture", 1), "x")
return { kind = "rule", name = "finding-load", run = function() end }
