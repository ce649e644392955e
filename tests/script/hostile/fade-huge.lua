-- A fade of a year.
-- play: sequence
-- expect: seconds
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "fade-huge", run = function()
  out.fade(first(), { red = 1 }, 3e7)
end }
