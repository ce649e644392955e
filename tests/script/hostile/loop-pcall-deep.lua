-- pcall must not catch a limit, at no depth.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
local function f(n) if n > 0 then pcall(f, n - 1) end while true do end end
f(100)
return { kind = "rule", name = "loop-pcall-deep", run = function() end }
