-- 5.4.4: recursion in handlers at the end of the stack.
-- play: rule
-- expect: contained
local function deep(n) local a, b, c, d, e, f, g = 1, 2, 3, 4, 5, 6, 7 return deep(n + 1) + a end
local function handler(m) return select(2, pcall(deep, 1)) end
for i = 1, 5 do xpcall(deep, handler, 1) end
return { kind = "rule", name = "old-handler-overflow", run = function() end }
