-- A loop in __index, called from C.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
local t = setmetatable({}, { __index = function() while true do end end })
local result = t.x
return { kind = "rule", name = "loop-metamethod", run = function() end }
