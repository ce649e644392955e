-- An error value whose __tostring loops, in our message handler.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
error(setmetatable({}, { __tostring = function() while true do end end }))
return { kind = "rule", name = "loop-error-value", run = function() end }
