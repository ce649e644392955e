-- 5.4.4: wrong code for constants in bitwise operations.
-- play: rule
-- expect: contained
local x = 1 print(~0xff & x, x | ~0, 0xF.0p0 & x, pcall(function() return 1.5 & x end))
return { kind = "rule", name = "old-bitwise", run = function() end }
