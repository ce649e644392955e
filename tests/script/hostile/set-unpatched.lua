-- A fixture that is not patched.
-- play: sequence
-- expect: not among the fixtures | not patched | expected
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "set-unpatched", run = function()
  out.set(rig.get("fixture", 4), { red = 100 })
end }
