-- A chain of __index without end.
-- play: rule
-- expect: overflow | loop
local function more() return setmetatable({}, { __index = function() return more().x end }) end
local result = more().x
return { kind = "rule", name = "deep-index", run = function() end }
