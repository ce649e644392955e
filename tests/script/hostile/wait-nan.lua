-- A wait that is no number.
-- play: sequence
-- expect: seconds
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-nan", run = function()
  wait(0 / 0)
end }
