-- coroutine.yield of the sequence itself.
-- play: sequence
-- expect: coroutine.yield works only inside a coroutine
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "yield-sequence", run = function()
  coroutine.yield()
end }
