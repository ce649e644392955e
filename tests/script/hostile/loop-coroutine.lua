-- The hook must be armed on the coroutine that runs.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
coroutine.wrap(function() while true do end end)()
return { kind = "rule", name = "loop-coroutine", run = function() end }
