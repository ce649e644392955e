-- A policy drives nothing and finds nothing.
-- play: swap
-- expect: out.set() belongs to sequences
-- cpu: 2
return { kind = "swap", name = "swap-drives", run = function(plans, p)
  assert(not pcall(finding, rig.show(), "x"))
  assert(not pcall(wait, 1))
  out.set(rig.get("fixture", 1), { red = 100 })
end }
