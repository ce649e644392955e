-- A replacement that loops, called from C.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
string.gsub("x", "x", function() while true do end end)
return { kind = "rule", name = "loop-gsub", run = function() end }
