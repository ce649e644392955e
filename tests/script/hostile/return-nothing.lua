-- A script returns one table.
-- play: rule
-- expect: returned a nil
local x = 1
