-- Matching must not exhaust the C stack.
-- play: rule
-- expect: pattern too complex | pattern too costly | CPU time | ends well
local result = string.match(("x"):rep(300000), ("x?"):rep(300000))
return { kind = "rule", name = "pattern-deep", run = function() end }
