-- select with wild numbers.
-- play: rule
-- expect: out of range
local result = select(-10, 1)
return { kind = "rule", name = "select-negative", run = function() end }
