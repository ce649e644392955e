-- xpcall must not catch a limit.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
while true do xpcall(function() while true do end end, function(m) return m end) end
return { kind = "rule", name = "loop-xpcall", run = function() end }
