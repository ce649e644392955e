-- Loading has 0.5 s of CPU time: a loop without a call.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
::again:: goto again
return { kind = "rule", name = "loop-goto", run = function() end }
