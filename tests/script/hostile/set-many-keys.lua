-- A table of levels with a million keys.
-- play: sequence
-- expect: more than 512 parameters | has no parameter | limit
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "set-many-keys", run = function()
  local t = {}
  for i = 1, 100000 do t["red" .. i] = 1 end
  out.set(first(), t)
end }
