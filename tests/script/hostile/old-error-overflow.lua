-- 5.4.4: an error while the C stack overflows overran the stack.
-- play: rule
-- expect: contained
local function f() local x <close> = setmetatable({}, { __close = function() error(("x"):rep(100)) end }) return string.gsub("x", "x", f) end
for i = 1, 20 do xpcall(f, function(m) return tostring(m):rep(3) end) end
return { kind = "rule", name = "old-error-overflow", run = function() end }
