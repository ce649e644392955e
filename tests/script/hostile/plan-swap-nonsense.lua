-- Queries with nonsense.
-- play: rule
-- expect: expected | no | unknown | transmitter
-- cpu: 5
return { kind = "rule", name = "plan-swap-nonsense", run = function()
  rig.plan_swap{ out = {}, into = 0 / 0 }
end }
