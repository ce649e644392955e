-- A table of levels whose metatable lies.
-- play: sequence
-- expect: ends well | expected | has no parameter
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "set-metatable", run = function()
  out.set(first(), setmetatable({}, { __index = function() return 0 / 0 end, __pairs = function() while true do end end }))
end }
