-- A finding with too many other subjects.
-- play: rule
-- expect: ends well | others | at most
-- cpu: 5
return { kind = "rule", name = "flood-others-too-many", run = function()
  local f, others = rig.get("fixture", 1), {}
  for i = 1, 100000 do others[i] = f end
  fail(f, "x", others)
end }
