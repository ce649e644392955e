-- Malformed patterns end in an error.
-- play: rule
-- expect: malformed pattern
local result = string.find("x", "[a-")
return { kind = "rule", name = "pattern-malformed", run = function() end }
