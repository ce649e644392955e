-- Memory: small tables.
-- play: rule
-- expect: passed the limit of
local t = {}
while true do t[#t + 1] = {} end
return { kind = "rule", name = "memory-tables", run = function() end }
