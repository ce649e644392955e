-- Memory: one hash, doubled.
-- play: rule
-- expect: passed the limit of
local t = {}
for i = 1, math.maxinteger do t[i + 0.5] = true end
return { kind = "rule", name = "memory-hash", run = function() end }
