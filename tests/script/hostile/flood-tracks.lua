-- Tracks that start tracks.
-- play: sequence
-- expect: tracks at a time
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "flood-tracks", run = function()
  local function f() start(f) start(f) wait(1) end
  f()
end }
