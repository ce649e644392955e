-- A sort of a million values.
-- play: rule
-- expect: CPU time | ends well | limit
local t = {}
for i = 1, 1000000 do t[i] = (i * 7919) % 1000003 end
table.sort(t)
return { kind = "rule", name = "sort-huge", run = function() end }
