-- tonumber of a long text.
-- play: rule
-- expect: ends well | CPU time
assert(tonumber(("9"):rep(1 << 20)) == math.huge or true)
return { kind = "rule", name = "tonumber-long", run = function() end }
