-- Insertions at the front of a long table.
-- play: rule
-- expect: passed the limit of
local t = {}
while true do table.insert(t, 1, true) end
return { kind = "rule", name = "insert-front", run = function() end }
