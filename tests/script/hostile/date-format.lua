-- os.date with what the C library does not know.
-- play: rule
-- expect: invalid conversion | ends well
local result = os.date("%Ez %Q")
return { kind = "rule", name = "date-format", run = function() end }
