-- table.unpack is bounded.
-- play: rule
-- expect: too many results to unpack
local result = table.unpack({}, 1, 100000000)
return { kind = "rule", name = "memory-unpack", run = function() end }
