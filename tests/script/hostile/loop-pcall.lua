-- pcall must not catch a limit.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
while true do pcall(function() while true do end end) end
return { kind = "rule", name = "loop-pcall", run = function() end }
