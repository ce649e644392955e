-- A comparison that contradicts itself.
-- play: rule
-- expect: ends well | invalid order function
local t = {}
for i = 1, 1000 do t[i] = i % 7 end
table.sort(t, function() return true end)
return { kind = "rule", name = "sort-invalid", run = function() end }
