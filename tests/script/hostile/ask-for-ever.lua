-- A dry run answers "skip" at once: asking for ever passes the limit.
-- play: sequence
-- expect: passed the limit of 0.5 s CPU time
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "ask-for-ever", run = function()
  while crew.ask(first(), "Well?") ~= "yes" do end
end }
