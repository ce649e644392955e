-- 5.4.4: a stack that moves during a concatenation.
-- play: rule
-- expect: contained
local function grow(n) if n > 0 then return grow(n - 1) + 1 end return 0 end
local t = setmetatable({}, { __tostring = function() grow(10000) return "t" end, __index = function(_, k) grow(5000) return k end, __unm = function() grow(9000) return "u" end })
for i = 1, 50 do coroutine.wrap(function() return t.a .. t.b .. -t .. tostring(t) .. t.c end)() end
return { kind = "rule", name = "old-concat-stack", run = function() end }
