-- A finding in a sequence.
-- play: sequence
-- expect: belongs to rules
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "finding-in-sequence", run = function()
  fail(first(), "x")
end }
