--- Chooses the best plan that leaves every working fixture alone, and refuses when there is none.
-- Fixtures may stay dark by that which another plan would light: the reason says how many.
-- @kind swap
-- @reads plans: dark, disturbed
-- @usage rigcall swap gala.show.lua --out T1 --policy never-disturb
-- @output Policy never-disturb chose plan 1 of 3: nothing that works is disturbed
return {
  kind = "swap",
  name = "never-disturb",
  about = "the best plan that leaves every working fixture alone",
  run = function(plans)
    for n, plan in ipairs(plans) do
      if plan.disturbed == 0 then
        local more = plan.dark - plans[1].dark
        local price = more > 0 and (", and %d more stay dark than need to"):format(more) or ""
        choose(n, "nothing that works is disturbed" .. price)
        return
      end
    end
    refuse("every plan disturbs a fixture that works")
  end,
}
