-- Recursion through C: gsub.
-- play: rule
-- expect: C stack overflow
local function f() return string.gsub("x", "x", f) end
local result = f()
return { kind = "rule", name = "deep-gsub", run = function() end }
