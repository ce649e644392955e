-- A burst of string building without a loop in Lua for long.
-- play: rule
-- expect: passed the limit of
local s = "x"
while true do s = s:sub(1, 1000):rep(1000) end
return { kind = "rule", name = "loop-concat-values", run = function() end }
