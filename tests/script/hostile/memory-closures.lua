-- Memory: closures.
-- play: rule
-- expect: passed the limit of
local f
while true do local g = f f = function() return g end end
return { kind = "rule", name = "memory-closures", run = function() end }
