-- table.concat of one text many times.
-- play: rule
-- expect: passed the limit of 64 MiB of memory
local s, t = ("x"):rep(1 << 20), {}
for i = 1, 1000 do t[i] = s end
local result = table.concat(t)
return { kind = "rule", name = "memory-concat", run = function() end }
