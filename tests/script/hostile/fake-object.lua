-- Something that is no object.
-- play: sequence
-- expect: expected
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "fake-object", run = function()
  out.set(print, { red = 1 })
end }
