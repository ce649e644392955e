-- A rule that reports for ever passes its limit of CPU time.
-- play: rule
-- expect: passed the limit of 5 s CPU time
-- cpu: 5
return { kind = "rule", name = "flood-findings-endless", run = function()
  local f = rig.get("fixture", 1)
  while true do fail(f, "flood") end
end }
