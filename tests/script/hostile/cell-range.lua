-- A cell that does not exist.
-- play: sequence
-- expect: cell | cells
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "cell-range", run = function()
  out.set(first():cell(1 << 40), { red = 1 })
end }
