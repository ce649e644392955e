-- A fixture that the sequence was not given.
-- play: sequence
-- expect: not among the fixtures of this run | expected
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "set-not-granted", run = function()
  out.set(rig.get("fixture", 3), { red = 100 })
end }
