-- A finding with many other subjects.
-- play: rule
-- expect: ends well | others | entry
-- cpu: 5
return { kind = "rule", name = "flood-others", run = function()
  local f, others = rig.get("fixture", 1), {}
  for i = 1, 1000 do others[i] = f end
  for i = 1, 1000 do fail(f, ("x"):rep(1000), others) end
end }
