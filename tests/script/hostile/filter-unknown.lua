-- A filter that does not exist.
-- play: rule
-- expect: has no filter
-- cpu: 5
return { kind = "rule", name = "filter-unknown", run = function()
  for f in rig.fixtures{ sight = "quay" } do end
end }
