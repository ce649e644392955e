-- Coroutines within coroutines without end.
-- play: rule
-- expect: overflow | deep-coroutine.lua:4: deep-coroutine.lua:4 | limit
local function f() return coroutine.wrap(f)() end
local result = f()
return { kind = "rule", name = "deep-coroutine", run = function() end }
