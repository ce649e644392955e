-- string.rep is bounded before it allocates.
-- play: rule
-- expect: resulting string too large
local result = ("x"):rep(1 << 40)
return { kind = "rule", name = "memory-rep", run = function() end }
