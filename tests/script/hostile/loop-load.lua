-- Loading has 0.5 s of CPU time.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
while true do end
return { kind = "rule", name = "loop-load", run = function() end }
