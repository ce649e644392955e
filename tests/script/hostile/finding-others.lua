-- Others that are no objects.
-- play: rule
-- expect: not an object of the show
-- cpu: 5
return { kind = "rule", name = "finding-others", run = function()
  fail(rig.get("fixture", 1), "x", { 1, 2, 3 })
end }
