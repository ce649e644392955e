-- Loading has 0.5 s of CPU time: tail calls need no stack.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
local function f() return f() end
f()
return { kind = "rule", name = "loop-recursion", run = function() end }
