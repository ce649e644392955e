-- A comparison that loops, called from C.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
table.sort({ 2, 1 }, function() while true do end end)
return { kind = "rule", name = "loop-sort", run = function() end }
