-- run that is no function.
-- play: rule
-- expect: expected a function
return { kind = "rule", name = "x", run = "run" }
