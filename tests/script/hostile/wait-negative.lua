-- A wait backwards.
-- play: sequence
-- expect: seconds
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-negative", run = function()
  wait(-1)
end }
