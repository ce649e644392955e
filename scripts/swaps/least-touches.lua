--- Chooses the plan with the fewest fixtures to touch among those that leave the fewest dark.
-- The planner itself would rather have more fixtures touched than disturb one that works; this policy is for the minutes
-- before doors, when every walk to a fixture counts the same. Among equal ones it disturbs the fewest.
-- @kind swap
-- @reads plans: dark, disturbed, touches
-- @usage rigcall swap gala.show.lua --out T1 --policy least-touches
-- @output Policy least-touches chose plan 2 of 2: 1 to touch, 1 of the working ones disturbed
return {
  kind = "swap",
  name = "least-touches",
  about = "the fewest fixtures to touch among the plans that leave the fewest dark",
  run = function(plans)
    local best = 1
    for n, plan in ipairs(plans) do
      local least = plans[best]
      if plan.dark == least.dark and plan.touches < least.touches then
        best = n
      end
    end
    local plan = plans[best]
    choose(best, ("%d to touch, %d of the working ones disturbed"):format(plan.touches, plan.disturbed))
  end,
}
