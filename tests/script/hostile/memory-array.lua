-- Memory: one array, doubled.
-- play: rule
-- expect: passed the limit of
local t = {}
for i = 1, math.maxinteger do t[i] = i end
return { kind = "rule", name = "memory-array", run = function() end }
