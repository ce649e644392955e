-- An error value whose __tostring raises.
-- play: rule
-- expect: error in | attempt | loop | no
error(setmetatable({}, { __tostring = function() error("no") end }))
