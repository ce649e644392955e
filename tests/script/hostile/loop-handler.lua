-- No hook fires in a message handler: the engine ends the host.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time and was killed | passed the limit of 0.5 s CPU time
xpcall(error, function() while true do end end)
return { kind = "rule", name = "loop-handler", run = function() end }
