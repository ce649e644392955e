-- A level of infinity.
-- play: sequence
-- expect: expected 0 to 100
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "set-huge", run = function()
  out.set(first(), { red = math.huge })
end }
