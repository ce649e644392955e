-- crew.say without end.
-- play: sequence
-- expect: passed the limit of 0.5 s CPU time
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "flood-say", run = function()
  while true do crew.say("flood") end
end }
