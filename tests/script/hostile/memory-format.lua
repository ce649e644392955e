-- string.format of long texts.
-- play: rule
-- expect: passed the limit of
local s = ("x"):rep(1 << 20)
local f = ("%s"):rep(200)
local t = {}
for i = 1, 200 do t[i] = s end
local result = f:format(table.unpack(t))
return { kind = "rule", name = "memory-format", run = function() end }
