-- A run lasts at most a day.
-- play: sequence
-- expect: a run lasts at most 86400 s
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-past-day", run = function()
  while true do wait(50000) end
end }
