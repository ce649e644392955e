-- settle() with nothing to wait for, for ever.
-- play: sequence
-- expect: passed the limit of 0.5 s CPU time
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "settle-for-ever", run = function()
  while true do settle() end
end }
