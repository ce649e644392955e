-- A numeric loop of 2^63 steps.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
for i = math.mininteger, math.maxinteger do end
return { kind = "rule", name = "loop-for-step", run = function() end }
