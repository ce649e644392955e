-- math.random over an empty range.
-- play: rule
-- expect: interval is empty
local result = math.random(2, 1)
return { kind = "rule", name = "random-range", run = function() end }
