-- %b over a long text.
-- play: rule
-- expect: pattern too costly | CPU time | ends well
local result = string.find(("("):rep(1 << 20), "%b()%b()")
return { kind = "rule", name = "pattern-balance", run = function() end }
