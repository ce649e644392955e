--- Warns of a transmitter that no spare can stand in for with 0 touches.
-- Each transmitter is judged as if it alone were lost: some spare must light every fixture that lands on it rightly, with
-- nothing keyed into any fixture and none disturbed. So it needs the transmitter's air mode, a lane of every number that is
-- in use, and the reach. What these do not decide (quiet bands, join codes of others, universes carried twice) is asked of
-- the planner behind `rigcall swap`. Spare transmitters and those off the air are not judged.
-- @kind rule
-- @reads transmitters: spare, air, airs, radios, code, lanes, keep_out, reach, pos, site; universes; quiet; fixtures: code,
--   air, lane, universe, pos, site
-- @usage rigcall check harbour.show.lua --only spare-ready
-- @output warn spare-ready transmitter T1: no spare can stand in with 0 touches: T9 has 4 lanes in dual, 6 are in use
local REASONS = 3 -- that a text names
local HOPS = 15 -- channels that must stay

local function has(list, word)
  for _, item in ipairs(list) do
    if item == word then
      return true
    end
  end
  return false
end

-- Channels left when the spare also keeps every quiet band out.
local function hops(spare)
  local bands, left = spare:keep_out(), 0
  for q in rig.quiet() do
    table.insert(bands, q)
  end
  for channel = 2402, 2480 do
    local out = false
    for _, band in ipairs(bands) do
      out = out or (band.from <= channel and channel <= band.to)
    end
    left = left + (out and 0 or 1)
  end
  return left
end

-- By transmitter: the fixtures that land on it rightly, and the highest lane among them. By code: how many have it.
local function survey()
  local cases, keyed = {}, {}
  for f in rig.fixtures() do
    local state, t = f:landing()
    if f.code then
      keyed[f.code] = (keyed[f.code] or 0) + 1
    end
    if state == "right" then
      local case = cases[t] or { fixtures = {}, lanes = 0, universes = {} }
      cases[t] = case
      table.insert(case.fixtures, f)
      case.lanes = math.max(case.lanes, f.lane)
      case.universes[f.universe] = true
    end
  end
  return cases, keyed
end

-- True when nobody else has to do with the transmitter's code and universes: then a plain spare can take both over.
local function is_alone(t, case, keyed)
  if #rig.with_code(t.code) > 1 or keyed[t.code] ~= #case.fixtures then
    return false
  end
  for id in pairs(case.universes) do
    local universe = rig.get("universe", id)
    if not universe or #universe:carriers() ~= 1 then
      return false
    end
  end
  return true
end

local function planned(spare, t)
  local plan = rig.plan_swap { out = t, into = spare, keep_working = true }
  if plan.refused then
    return ("%s: %s"):format(spare.id, plan.refused)
  elseif plan.dark > 0 then
    return ("%s: %s stays dark: %s"):format(spare.id, tostring(plan.fixtures_dark[1]), plan.why_dark[1])
  elseif plan.touches > 0 then
    return ("%s takes %d touches"):format(spare.id, plan.touches)
  end
end

-- Why a spare cannot stand in; nil if it can.
local function fault(spare, t, case)
  local top = spare.radios * (t.air == "dual" and 2 or 1)
  if spare.air ~= t.air and not has(spare.airs, t.air) then
    return ("%s has no %s"):format(spare.id, t.air)
  elseif top < case.lanes then
    return ("%s has %d lanes in %s, %d are in use"):format(spare.id, math.max(top, 0), t.air, case.lanes)
  end
  for _, f in ipairs(case.fixtures) do
    if not rig.in_reach(spare, f) then
      return ("%s does not reach %s"):format(spare.id, tostring(f))
    end
  end
  if case.alone and #spare:lanes() == 0 and hops(spare) >= HOPS then
    return nil
  end
  return planned(spare, t)
end

local function judge(t, case, spares)
  local reasons, more = {}, 0
  for _, spare in ipairs(spares) do
    local reason = fault(spare, t, case)
    if not reason then
      return
    elseif #reasons < REASONS then
      table.insert(reasons, reason)
    else
      more = more + 1
    end
  end
  finding(t, "no spare can stand in with 0 touches: " .. table.concat(reasons, "; ") .. (more > 0 and ("; and %d more"):format(more) or ""))
end

return {
  kind = "rule",
  name = "spare-ready",
  about = "a transmitter that no spare can stand in for with 0 touches",
  severity = "warn",
  run = function()
    local spares, cases, keyed = {}, nil, nil
    for t in rig.transmitters { spare = true } do
      table.insert(spares, t)
    end
    if #spares > 0 then
      cases, keyed = survey()
    end
    for t in rig.transmitters { spare = false } do
      local case = cases and cases[t]
      if t.code and #spares == 0 then
        finding(t, "no spare can stand in: the show has none")
      elseif case then
        case.alone = is_alone(t, case, keyed)
        judge(t, case, spares)
      end
    end
  end,
}
