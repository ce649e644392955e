-- Recursion through C: __tostring.
-- play: rule
-- expect: C stack overflow
local t t = setmetatable({}, { __tostring = function() return tostring(t) end })
local result = tostring(t)
return { kind = "rule", name = "deep-tostring", run = function() end }
