-- string.format with a width of five digits.
-- play: rule
-- expect: invalid conversion
local result = ("%99999d"):format(1)
return { kind = "rule", name = "format-width", run = function() end }
