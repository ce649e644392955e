--- Warns of a transmitter that no spare can stand in for with 0 touches.
-- A spare can if it has the transmitter's air mode, at least as many lanes as the highest one in use (so that every lane
-- keeps its number), and reaches every fixture that lands on it. It takes over join code, air mode and lanes; nothing is
-- keyed into a fixture. Each transmitter is judged as if it alone were lost; spare ones are not judged.
-- @kind rule
-- @reads transmitters: spare, air, airs, radios, lanes, reach, pos, site; fixtures: code, air, lane, pos, site
-- @usage rigcall check harbour.show.lua --only spare-ready
-- @output warn spare-ready transmitter T1: no spare can stand in with 0 touches: T9 has 4 lanes in dual, 6 are in use
local REASONS = 3 -- that a text names

local function has(list, word)
  for _, item in ipairs(list) do
    if item == word then
      return true
    end
  end
  return false
end

local function highest_lane(t)
  local top, highest = t:lane_count(), 0
  for _, entry in ipairs(t:lanes()) do
    if entry.lane <= top and entry.lane > highest then
      highest = entry.lane
    end
  end
  return highest
end

-- Why a spare cannot carry what the transmitter carries, wherever the two stand; nil if it can.
local function shortage(spare, t, lanes)
  local top = math.max(spare.radios, 0) * (t.air == "dual" and 2 or 1)
  if not has(spare.airs, t.air) then
    return ("%s has no %s"):format(spare.id, t.air)
  elseif top < lanes then
    return ("%s has %d lanes in %s, %d are in use"):format(spare.id, top, t.air, lanes)
  end
end

local function open_case(t, spares)
  local case = { able = {}, reasons = {} }
  local lanes = highest_lane(t)
  for _, spare in ipairs(spares) do
    local reason = shortage(spare, t, lanes)
    table.insert(reason and case.reasons or case.able, reason or spare)
  end
  return case
end

-- Take away the spares that do not reach a fixture which the transmitter reaches.
local function judge_fixture(case, t, f)
  local able = case.able
  for i = #able, 1, -1 do
    if not rig.in_reach(able[i], f) and rig.in_reach(t, f) then
      table.insert(case.reasons, ("%s does not reach %s"):format(able[i].id, tostring(f)))
      table.remove(able, i)
    end
  end
end

local function text(case)
  local reasons = case.reasons
  if #reasons == 0 then
    return "no spare can stand in: the show has none"
  end
  local more = #reasons > REASONS and ("; and %d more"):format(#reasons - REASONS) or ""
  return "no spare can stand in with 0 touches: " .. table.concat(reasons, "; ", 1, math.min(#reasons, REASONS)) .. more
end

return {
  kind = "rule",
  name = "spare-ready",
  about = "a transmitter that no spare can stand in for with 0 touches",
  severity = "warn",
  run = function()
    local spares, order, cases = {}, {}, {}
    for t in rig.transmitters() do
      table.insert(t.spare and spares or order, t)
    end
    for _, t in ipairs(order) do
      cases[t] = open_case(t, spares)
    end
    for f in rig.fixtures() do
      local t = #spares > 0 and f:transmitter()
      if t and #cases[t].able > 0 then
        judge_fixture(cases[t], t, f)
      end
    end
    for _, t in ipairs(order) do
      if #cases[t].able == 0 then
        finding(t, text(cases[t]))
      end
    end
  end,
}
