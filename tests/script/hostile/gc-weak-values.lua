-- __mode = "v", given late.
-- play: rule
-- expect: ends well | passed the limit of
local mt = {}
local t = setmetatable({}, mt)
mt.__mode = "v"
for i = 1, 50000 do t[i] = {} end
local waste = {}
for i = 1, 300000 do waste[i % 100] = { i } end
if #t ~= 50000 then error("collected") end
return { kind = "rule", name = "gc-weak-values", run = function() end }
