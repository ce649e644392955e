-- Recursion through pcall.
-- play: rule
-- expect: overflow | ends well | limit
local function f() return pcall(f) end
local result = f()
return { kind = "rule", name = "deep-pcall", run = function() end }
