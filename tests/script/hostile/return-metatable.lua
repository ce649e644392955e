-- A table that pretends through its metatable.
-- play: rule
-- expect: kind is missing
return setmetatable({}, { __index = function(_, k) return k == "kind" and "rule" or "x" end })
