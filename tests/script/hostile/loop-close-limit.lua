-- A closing function that runs because of the limit.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
local x <close> = setmetatable({}, { __close = function() while true do end end })
while true do end
return { kind = "rule", name = "loop-close-limit", run = function() end }
