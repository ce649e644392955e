-- wait() in a closing function after an error.
-- play: sequence
-- expect: now | wait()
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-in-close", run = function()
  do
    local x <close> = setmetatable({}, { __close = function() wait(1) end })
    error("now")
  end
end }
