-- The same in gsub, position by position.
-- play: rule
-- expect: pattern too costly | CPU time
local result = string.gsub(("a"):rep(100000), ".-.-b", "")
return { kind = "rule", name = "pattern-bomb-gsub", run = function() end }
