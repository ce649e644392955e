-- string.format shows no addresses.
-- play: rule
-- expect: addresses are not shown
local result = ("%p"):format({})
return { kind = "rule", name = "format-address", run = function() end }
