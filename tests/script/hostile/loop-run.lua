-- A rule has 5 s and 50 us a fixture.
-- play: rule
-- expect: passed the limit of 5 s CPU time
-- cpu: 5
return { kind = "rule", name = "loop-run", run = function()
  while true do end
end }
