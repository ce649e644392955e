-- Fades without a wait.
-- play: sequence
-- expect: passed the limit of 0.5 s CPU time
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "flood-fade", run = function()
  local f = first()
  while true do out.fade(f, { red = 100 }, 5) out.fade(f, { red = 0 }, 5) end
end }
