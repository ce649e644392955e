-- os.date of a year that does not fit.
-- play: rule
-- expect: cannot be represented | out-of-bound | number has no
local result = os.date("*t", 1 << 60)
return { kind = "rule", name = "date-range", run = function() end }
