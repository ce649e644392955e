-- Recursion through C: sort.
-- play: rule
-- expect: C stack overflow
local function f() table.sort({ 2, 1 }, f) end
local result = f()
return { kind = "rule", name = "deep-sort", run = function() end }
