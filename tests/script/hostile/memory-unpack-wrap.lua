-- table.unpack: the number of results must not wrap.
-- play: rule
-- expect: too many results to unpack
local result = table.unpack({}, math.mininteger, math.maxinteger)
return { kind = "rule", name = "memory-unpack-wrap", run = function() end }
