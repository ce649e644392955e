-- A filter that loops, called from C.
-- play: rule
-- expect: passed the limit of 5 s CPU time
-- cpu: 5
return { kind = "rule", name = "loop-where", run = function()
  for f in rig.fixtures{ where = function() while true do end end } do end
end }
