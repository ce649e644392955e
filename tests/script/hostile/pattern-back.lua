-- A capture that refers to itself.
-- play: rule
-- expect: invalid capture index
local result = string.find("x", "(%1)")
return { kind = "rule", name = "pattern-back", run = function() end }
