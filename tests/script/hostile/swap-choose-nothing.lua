-- Neither chosen nor refused.
-- play: swap
-- expect: run ended without choose(n) or refuse(why)
-- cpu: 2
return { kind = "swap", name = "swap-choose-nothing", run = function(plans, p)
  return 1
end }
