-- A thousand params.
-- play: rule
-- expect: more than 32 params
local p = {}
for i = 1, 1000 do p["p" .. i] = { "number", default = 0 } end
return { kind = "rule", name = "x", params = p, run = function() end }
