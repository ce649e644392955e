-- At most 1,000 findings a rule, then one more line.
-- play: rule
-- expect: ends well
-- cpu: 5
return { kind = "rule", name = "flood-findings", run = function()
  local f = rig.get("fixture", 1)
  for i = 1, 100000 do fail(f, ("flood"):rep(300)) end
end }
