-- More captures than there are.
-- play: rule
-- expect: too many captures
local result = string.match(("x"):rep(40), ("(x)"):rep(40))
return { kind = "rule", name = "pattern-captures", run = function() end }
