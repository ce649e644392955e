-- An error value whose __tostring gives no text.
-- play: rule
-- expect: must return a string | error
error(setmetatable({}, { __tostring = function() return {} end }))
