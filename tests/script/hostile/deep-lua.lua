-- Recursion without end in Lua.
-- play: rule
-- expect: stack overflow | passed the limit of 64 MiB of memory
local function f() return 1 + f() end
local result = f()
return { kind = "rule", name = "deep-lua", run = function() end }
