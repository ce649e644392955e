-- The running coroutine changes all the time.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
local co = coroutine.wrap(function() while true do coroutine.yield() end end)
while true do co() end
return { kind = "rule", name = "loop-coroutine-switch", run = function() end }
