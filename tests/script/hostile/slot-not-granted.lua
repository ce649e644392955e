-- A slot of no fixture of this run.
-- play: sequence
-- expect: belongs to no fixture of this run
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "slot-not-granted", run = function()
  out.slot(1, 9, 50)
end }
