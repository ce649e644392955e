-- A collection of a long list.
-- play: rule
-- expect: passed the limit of
local list
while true do list = { list } end
return { kind = "rule", name = "gc-chain", run = function() end }
