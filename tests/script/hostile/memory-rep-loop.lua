-- string.rep in a loop with pcall.
-- play: rule
-- expect: passed the limit of
while true do pcall(string.rep, "x", 1 << 26) end
return { kind = "rule", name = "memory-rep-loop", run = function() end }
