-- Upvalues of a coroutine that is gone.
-- play: rule
-- expect: contained
local kept
coroutine.wrap(function() local x = {} kept = function() return x end coroutine.yield() end)()
for i = 1, 100000 do local waste = { i } end
assert(type(kept()) == "table")
return { kind = "rule", name = "old-upvalues", run = function() end }
