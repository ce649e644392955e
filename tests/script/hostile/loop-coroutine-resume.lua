-- coroutine.resume must not catch a limit.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
while true do coroutine.resume(coroutine.create(function() while true do end end)) end
return { kind = "rule", name = "loop-coroutine-resume", run = function() end }
