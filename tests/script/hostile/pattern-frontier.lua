-- A set of a thousand entries at each of a million places.
-- play: rule
-- expect: pattern too costly | CPU time | ends well
local result = string.find(("a"):rep(1 << 20), "%f[" .. ("b"):rep(1000) .. "]")
return { kind = "rule", name = "pattern-frontier", run = function() end }
