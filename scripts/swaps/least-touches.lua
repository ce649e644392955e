--- Chooses the plan with the fewest fixtures to touch among those that leave the fewest dark.
-- The planner itself would rather touch more fixtures than disturb one that works; this policy is for the minutes before
-- doors, when every walk to a fixture counts the same.
-- @kind swap
-- @reads plans: dark, disturbed, touches, settings
-- @usage rigcall swap harbour.show.lua --out T1 --policy least-touches
-- @output Policy least-touches chose this plan: 0 fixtures to touch, 0 of them work now
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
    return choose(best, ("%d fixtures to touch, %d of them work now"):format(plan.touches, plan.disturbed))
  end,
}
