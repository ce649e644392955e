--- Asks the crew before anything: each plan in turn, best first, until one is taken.
-- A no goes on to the next plan, a skip leaves everything as it is.
-- @kind swap
-- @reads plans: transmitters, fixtures_dark, dark, disturbed, touches, settings
-- @usage rigcall swap gala.show.lua --out T1 --policy ask-first --write
-- @output Plan 1 of 2, transmitter S1 Spare: 0 stay dark, 0 disturbed, 0 to touch, 3 settings. Take it?
local NAMED = 3 -- transmitters or universes in one question

local function list(items, none)
  local names = {}
  for i = 1, math.min(NAMED, #items) do
    names[i] = tostring(items[i])
  end
  if #items > NAMED then
    names[#names + 1] = ("%d more"):format(#items - NAMED)
  end
  return #names > 0 and table.concat(names, ", ") or none
end

local function universes(fixtures)
  local found, seen = {}, {}
  for _, fixture in ipairs(fixtures) do
    if not seen[fixture.universe] then
      seen[fixture.universe] = true
      found[#found + 1] = fixture.universe
    end
  end
  table.sort(found)
  return found
end

local function question(n, count, plan)
  local dark = plan.dark == 0 and "" or (" (universe %s)"):format(list(universes(plan.fixtures_dark)))
  return ("Plan %d of %d, %s: %d stay dark%s, %d disturbed, %d to touch, %d settings. Take it?"):format(n, count,
    list(plan.transmitters, "no transmitter to set"), plan.dark, dark, plan.disturbed, plan.touches, plan.settings)
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
