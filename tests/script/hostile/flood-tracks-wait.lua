-- A thousand tracks that all wait for nothing.
-- play: sequence
-- expect: passed the limit of 0.5 s CPU time | tracks at a time
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "flood-tracks-wait", run = function()
  for i = 1, 900 do start(function() while true do wait(0) end end) end
  while true do wait(0) end
end }
