-- crew.ask in a coroutine of the script's own.
-- play: sequence
-- expect: works only in the sequence itself
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "ask-in-coroutine", run = function()
  coroutine.wrap(function() crew.ask(first(), "?") end)()
end }
