-- Metatables are installed without __gc: a finalizer never runs.
-- play: rule
-- expect: ends well
for i = 1, 1000 do setmetatable({}, { __gc = function() while true do end end }) end
local waste = {}
for i = 1, 200000 do waste[i % 100] = { i } end
return { kind = "rule", name = "loop-finalizer", run = function() end }
