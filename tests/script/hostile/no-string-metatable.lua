-- The metatable that all texts share is given to nobody.
-- play: rule
-- expect: ends well | attempt to index
local mt = getmetatable("")
mt.__index = function() return print end
return { kind = "rule", name = "no-string-metatable", run = function() end }
