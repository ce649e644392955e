-- Recursion through __lt and __eq.
-- play: rule
-- expect: overflow
local mt = {}
mt.__lt = function(a, b) return a < b end
local result = setmetatable({}, mt) < setmetatable({}, mt)
return { kind = "rule", name = "deep-compare", run = function() end }
