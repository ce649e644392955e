-- A universe that does not exist.
-- play: sequence
-- expect: belongs to no fixture of this run | universe
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "slot-universe", run = function()
  out.slot(math.mininteger, 1, 50)
end }
