-- A burst of commands without a wait passes the limit of a burst.
-- play: sequence
-- expect: passed the limit of 0.5 s CPU time
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "flood-set", run = function()
  local f = first()
  while true do out.set(f, { red = 100, green = 50 }) end
end }
