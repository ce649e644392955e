-- A comparison that changes the table that is sorted.
-- play: rule
-- expect: ends well | limit | attempt to compare
local t = {}
for i = 1, 1000 do t[i] = -i end
table.sort(t, function(a, b) for i = 1, 10 do t[#t] = nil end return a < b end)
return { kind = "rule", name = "sort-shrink", run = function() end }
