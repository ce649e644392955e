-- A question of a megabyte is cut or refused.
-- play: sequence
-- expect: ends well | text | octets
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "question-long", run = function()
  crew.ask(first(), ("?"):rep(1 << 20))
end }
