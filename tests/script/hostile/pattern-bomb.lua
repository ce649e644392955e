-- No hook fires inside a long C call: patterns have a budget of steps.
-- play: rule
-- expect: pattern too costly | CPU time
local result = string.find(("a"):rep(200), ("a*"):rep(12) .. "b")
return { kind = "rule", name = "pattern-bomb", run = function() end }
