-- utf8.codepoint gives one value a character: bounded.
-- play: rule
-- expect: string slice too long | stack overflow | limit
local result = utf8.codepoint(("x"):rep(1 << 24), 1, -1)
return { kind = "rule", name = "memory-codepoint", run = function() end }
