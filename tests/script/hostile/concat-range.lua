-- table.concat over 2^63 entries.
-- play: rule
-- expect: invalid value (at index
local result = table.concat({}, "", 1, math.maxinteger)
return { kind = "rule", name = "concat-range", run = function() end }
