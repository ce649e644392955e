-- Recursion in message handlers.
-- play: rule
-- expect: overflow | ends well | error in | limit
local function f() return xpcall(error, f) end
local result = f()
return { kind = "rule", name = "deep-xpcall", run = function() end }
