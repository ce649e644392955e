-- A slot outside a universe.
-- play: sequence
-- expect: outside 1..512
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "slot-range", run = function()
  out.slot(1, 513, 50)
end }
