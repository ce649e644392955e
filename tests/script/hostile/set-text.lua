-- A level that is text.
-- play: sequence
-- expect: expected 0 to 100
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "set-text", run = function()
  out.set(first(), { red = "full" })
end }
