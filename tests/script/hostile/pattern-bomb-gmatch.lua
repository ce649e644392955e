-- The same in gmatch.
-- play: rule
-- expect: pattern too costly | CPU time
for _ in string.gmatch(("a"):rep(100000), ".-.-b") do end
return { kind = "rule", name = "pattern-bomb-gmatch", run = function() end }
