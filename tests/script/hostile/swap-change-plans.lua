-- What a policy does to its tables changes no plan.
-- play: swap
-- expect: ends well
-- cpu: 2
return { kind = "swap", name = "swap-change-plans", run = function(plans, p)
  for i = 1, #plans do
    plans[i].dark, plans[i].steps = -1, { plans }
    plans[i].fixtures_touched = plans[i].steps
  end
  plans[3], plans[4] = plans[1], plans
  choose(2)
end }
