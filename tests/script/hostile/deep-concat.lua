-- A chain of concatenations through metamethods: __concat is left out.
-- play: rule
-- expect: attempt to concatenate
local t = setmetatable({}, { __concat = function(a, b) return a .. b end })
local result = t .. "x"
return { kind = "rule", name = "deep-concat", run = function() end }
