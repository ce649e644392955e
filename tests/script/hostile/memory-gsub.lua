-- gsub whose result is a million times as long.
-- play: rule
-- expect: passed the limit of
local result = (("x"):rep(100000):gsub("x", ("y"):rep(100000)))
return { kind = "rule", name = "memory-gsub", run = function() end }
