-- __gc written into a metatable after it was installed does nothing: what is installed is a copy.
-- play: rule
-- expect: ends well
local mt = {}
for i = 1, 1000 do setmetatable({}, mt) end
mt.__gc = function() while true do end end
for i = 1, 1000 do setmetatable({}, mt) end
local waste = {}
for i = 1, 200000 do waste[i % 100] = { i } end
return { kind = "rule", name = "late-finalizer", run = function() end }
