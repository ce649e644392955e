-- string.pack with sizes that do not exist.
-- play: rule
-- expect: out of limits
local result = string.pack("i17", 1)
return { kind = "rule", name = "pack-size", run = function() end }
