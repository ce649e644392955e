-- The same with lazy repeats and captures.
-- play: rule
-- expect: pattern too costly | CPU time
local result = string.match(("a"):rep(3000), ("(.-)"):rep(12) .. "b")
return { kind = "rule", name = "pattern-bomb-lazy", run = function() end }
