-- table.pack and varargs of a million values.
-- play: rule
-- expect: too many results to unpack | stack overflow | limit
local function f(...) return f(1, ...) end
f()
return { kind = "rule", name = "memory-pack", run = function() end }
