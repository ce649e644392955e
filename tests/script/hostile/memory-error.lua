-- An error message of a megabyte is cut.
-- play: rule
-- expect: xxxx
error(("x"):rep(1 << 20), 0)
return { kind = "rule", name = "memory-error", run = function() end }
