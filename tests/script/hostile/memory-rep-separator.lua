-- string.rep: the sum of length and separator must not wrap.
-- play: rule
-- expect: resulting string too large
local result = ("x"):rep(math.maxinteger, "yy")
return { kind = "rule", name = "memory-rep-separator", run = function() end }
