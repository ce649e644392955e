-- Memory: 64 MiB of Lua.
-- play: rule
-- expect: passed the limit of 64 MiB of memory
local s = "x"
while true do s = s .. s end
return { kind = "rule", name = "memory-text", run = function() end }
