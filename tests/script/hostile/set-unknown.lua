-- A parameter that does not exist.
-- play: sequence
-- expect: has no parameter 'rde'
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "set-unknown", run = function()
  out.set(first(), { rde = 1 })
end }
