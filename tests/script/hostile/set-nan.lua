-- A level that is no number.
-- play: sequence
-- expect: expected 0 to 100
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "set-nan", run = function()
  out.set(first(), { red = 0 / 0 })
end }
