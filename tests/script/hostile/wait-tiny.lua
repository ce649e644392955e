-- Waits of a nanosecond.
-- play: sequence
-- expect: passed the limit of 0.5 s CPU time
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-tiny", run = function()
  while true do wait(1e-9) end
end }
