--- Raises one slot after another of each fixture, so that an address, a footprint or a mode that is off shows as light in the
--- wrong place.
-- Strobes and parameters that move the fixture are never raised. Slots that do something else than light (lamp, power, macros,
-- fog, and names that rigcall does not know) only with `others`. The fine slot of a 16-bit value is a slot as any other.
-- Safe: a slot is up for at least 0.5 s and the next takes over in the same frame. So no cell, fixture or site changes more
-- than three times in any second, which is at most one and a half flashes; three are allowed.
-- @kind sequence
-- @usage rigcall run courtyard.show.lua slot-walk --live --if eth0 --where id=101 --set hold=0.5
-- @output 1 fixture in turn, 60 slots in all: 30 s.
-- @output fixture 101 Rail 1: universe 1, slots 1 to 60

local lights = use("lights")

-- The slots of a fixture that are walked, as offsets from its address; the names of their parameters; and the offsets of its
-- intensity if that is to stay up.
local function plan(f, p)
  local walk, names, lit = {}, {}, {}
  for i, slot in ipairs(f:slots()) do
    local name = slot:gsub("%+fine$", "")
    local role = lights.role(name)
    if role == "intensity" and p.lit then
      lit[#lit + 1] = i - 1
    elseif role ~= "strobe" and role ~= "motion" and (p.others or role ~= "service") then
      walk[#walk + 1] = i - 1
      names[name] = true
    end
  end
  return { f = f, walk = walk, names = names, lit = lit }
end

-- Walks of several fixtures side by side, one slot of each up at a time.
local function walk_together(group, p)
  local longest = 0
  for _, item in ipairs(group) do
    longest = math.max(longest, #item.walk)
    if #item.walk > 0 then out.set(item.f, lights.all_at(item.names, 0)) end          -- a default need not be 0
    for _, offset in ipairs(item.lit) do out.slot(item.f.universe, item.f.address + offset, p.level) end
  end
  for step = 1, longest do
    for _, item in ipairs(group) do
      local before, now = item.walk[step - 1], item.walk[step]
      if before then out.slot(item.f.universe, item.f.address + before, 0) end
      if now then out.slot(item.f.universe, item.f.address + now, p.level) end
    end
    wait(p.hold)
  end
  for _, item in ipairs(group) do out.clear(item.f) end
end

return {
  kind = "sequence", name = "slot-walk",
  about = "each slot of each fixture in turn",
  params = {
    hold = { "number", unit = "s", min = 0.5, max = 60, default = 1, help = "how long each slot is up" },
    level = { "number", unit = "%", min = 1, max = 100, default = 50, help = "level of the slot that is up" },
    together = { "boolean", default = false, help = "all fixtures at once; false: one fixture after another" },
    lit = { "boolean", default = false, help = "keep the fixture's intensity up meanwhile, to see its colours" },
    others = { "boolean", default = false, help = "also raise slots that do something else than light: know your fixture" },
  },
  run = function(p)
    local items, longest, all = {}, 0, 0
    for _, f in ipairs(lights.taking_part(function(f) return #plan(f, p).walk > 0 end, "no slot to raise")) do
      local item = plan(f, p)
      items[#items + 1] = item
      longest = math.max(longest, #item.walk)
      all = all + #item.walk
    end
    if p.together then
      local what = ("%s at once, up to %s"):format(lights.count(#items, "fixture"), lights.count(longest, "slot"))
      lights.announce(what, longest * p.hold)
      walk_together(items, p)
    else
      local what = ("%s in turn, %s in all"):format(lights.count(#items, "fixture"), lights.count(all, "slot"))
      lights.announce(what, all * p.hold)
      for _, item in ipairs(items) do
        local first = item.f.address
        crew.say(("%s: universe %d, slots %d to %d"):format(item.f, item.f.universe, first, first + item.f:footprint() - 1))
        walk_together({ item }, p)
      end
    end
    wait(0)
  end,
}
