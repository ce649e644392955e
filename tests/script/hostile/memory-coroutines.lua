-- Memory: coroutines that wait.
-- play: rule
-- expect: passed the limit of
local t = {}
while true do local co = coroutine.create(coroutine.yield) coroutine.resume(co) t[#t + 1] = co end
return { kind = "rule", name = "memory-coroutines", run = function() end }
