-- A key that is collected while next() stands on it.
-- play: rule
-- expect: contained
local t = {}
for i = 1, 1000 do t[{}] = i end
for k in pairs(t) do t[k] = nil; for i = 1, 50 do local waste = { i } end end
return { kind = "rule", name = "old-next-collected", run = function() end }
