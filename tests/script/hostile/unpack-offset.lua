-- string.unpack past the end of a text.
-- play: rule
-- expect: out of string | too short | data string too short
local result = string.unpack("i4", "abcd", math.maxinteger)
return { kind = "rule", name = "unpack-offset", run = function() end }
