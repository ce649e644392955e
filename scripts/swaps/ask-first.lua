--- Asks the crew before anything: each plan in turn, best first, until one is taken.
-- A no goes on to the next plan, a skip leaves everything as it is.
-- @kind swap
-- @reads plans: dark, disturbed, touches, settings
-- @usage rigcall swap harbour.show.lua --out T1 --policy ask-first --write
-- @output Plan 1 of 2: 0 stay dark, 0 working disturbed, 0 to touch, 9 settings. Take it?
local function question(n, count, plan)
  return ("Plan %d of %d: %d stay dark, %d working disturbed, %d to touch, %d settings. Take it?"):format(n, count,
    plan.dark, plan.disturbed, plan.touches, plan.settings)
end

return {
  kind = "swap",
  name = "ask-first",
  about = "asks the crew about each plan, best first",
  params = { offers = { "integer", min = 1, max = 18, default = 3, help = "plans to ask about" } },
  run = function(plans, p)
    local count = math.min(p.offers, #plans)
    for n = 1, count do
      local answer, note = ask(question(n, count, plans[n]))
      if answer == "yes" then
        return choose(n, note ~= "" and note or "yes")
      elseif answer == "skip" then
        return refuse(note ~= "" and note or "nobody took a plan")
      end
    end
    return refuse("the crew took none of the plans")
  end,
}
