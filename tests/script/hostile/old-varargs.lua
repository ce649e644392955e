-- Varargs beyond what a function may have.
-- play: rule
-- expect: contained
local function f(...) return select("#", ...) end
for n = 1, 250000, 50000 do pcall(function() return f(table.unpack({}, 1, n)) end) end
return { kind = "rule", name = "old-varargs", run = function() end }
