-- A rule has 5 s: a loop that mostly is in C functions of ours.
-- play: rule
-- expect: passed the limit of 5 s CPU time
-- cpu: 5
return { kind = "rule", name = "loop-bindings", run = function()
  while true do for f in rig.fixtures{} do tostring(f) end end
end }
