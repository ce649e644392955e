-- wait() in a coroutine of the script's own.
-- play: sequence
-- expect: wait() works only in the sequence itself
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-in-coroutine", run = function()
  coroutine.wrap(function() wait(1) end)()
end }
