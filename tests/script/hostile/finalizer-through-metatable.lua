-- getmetatable gives nobody the installed table to add __gc to.
-- play: rule
-- expect: ends well
local object = setmetatable({}, {})
local mt = getmetatable(object)
mt.__gc = function() while true do end end
object, mt = nil, nil
local waste = {}
for i = 1, 200000 do waste[i % 100] = { i } end
return { kind = "rule", name = "finalizer-through-metatable", run = function() end }
