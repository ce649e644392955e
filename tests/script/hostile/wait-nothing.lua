-- wait(0) for ever must not begin new bursts.
-- play: sequence
-- expect: passed the limit of 0.5 s CPU time
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-nothing", run = function()
  while true do wait(0) end
end }
