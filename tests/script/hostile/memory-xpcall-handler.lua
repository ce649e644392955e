-- A handler that takes memory when memory is short.
-- play: rule
-- expect: passed the limit of
local t = {}
local function take() while true do t[#t + 1] = string.rep("x", 1 << 16) .. #t end end
xpcall(take, take)
return { kind = "rule", name = "memory-xpcall-handler", run = function() end }
