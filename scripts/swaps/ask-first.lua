--- Asks the crew before anything: each plan in turn, best first, until one is taken.
-- A no goes on to the next plan, a skip leaves everything as it is.
-- @kind swap
-- @reads plans: transmitters, dark, disturbed, touches, settings
-- @usage rigcall swap gala.show.lua --out T1 --policy ask-first --write
-- @output Plan 1 of 2, transmitter T9 Spare: 0 stay dark, 0 working disturbed, 0 to touch, 3 settings. Take it?
local NAMED = 3 -- transmitters in one question

local function names(transmitters)
  local list = {}
  for i = 1, math.min(NAMED, #transmitters) do
    list[i] = tostring(transmitters[i])
  end
  if #transmitters > NAMED then
    list[#list + 1] = ("%d more"):format(#transmitters - NAMED)
  end
  return #list > 0 and table.concat(list, ", ") or "no transmitter to set"
end

local function question(n, count, plan)
  return ("Plan %d of %d, %s: %d stay dark, %d working disturbed, %d to touch, %d settings. Take it?"):format(n, count,
    names(plan.transmitters), plan.dark, plan.disturbed, plan.touches, plan.settings)
end

return {
  kind = "swap",
  name = "ask-first",
  about = "asks the crew about each plan, best first",
  params = { offers = { "integer", min = 1, max = 24, default = 3, help = "plans to ask about" } },
  run = function(plans, p)
    for n = 1, math.min(p.offers, #plans) do
      local answer, note = ask(question(n, #plans, plans[n]))
      if answer == "yes" then
        choose(n, note ~= "" and note or "the crew took it")
        return
      elseif answer == "skip" then
        refuse(note ~= "" and note or "nobody took a plan")
        return
      end
    end
    refuse("the crew took none of the plans")
  end,
}
