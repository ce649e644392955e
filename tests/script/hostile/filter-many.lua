-- A filter of a million values.
-- play: rule
-- expect: more than | limit
-- cpu: 5
return { kind = "rule", name = "filter-many", run = function()
  local t = {}
  for i = 1, 1000000 do t[i] = i end
  for f in rig.fixtures{ id = t } do end
end }
