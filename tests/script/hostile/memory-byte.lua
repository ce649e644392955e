-- string.byte gives one value an octet: bounded.
-- play: rule
-- expect: string slice too long | stack overflow | limit
local result = ("x"):rep(1 << 24):byte(1, -1)
return { kind = "rule", name = "memory-byte", run = function() end }
