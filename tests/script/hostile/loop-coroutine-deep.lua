-- The hook must be armed on the innermost of many coroutines.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
local function f(n) if n == 0 then while true do end end coroutine.wrap(f)(n - 1) end
f(100)
return { kind = "rule", name = "loop-coroutine-deep", run = function() end }
