-- A table of params that holds itself.
-- play: rule
-- expect: param
local p = {}
p.p = p
return { kind = "rule", name = "x", params = p, run = function() end }
