--- Fails a patched fixture whose join code, air mode and lane land it nowhere, on two transmitters at once, on a lane
-- without a universe, or in another universe than its patch.
-- Silent where another rule names the cause: code-form, air-supported, type-known, lane-shared, and in-reach for a
-- fixture that matches exactly one transmitter beyond its reach.
-- @kind rule
-- @reads fixtures: universe, code, air, lane, pos, site; transmitters: code, air, radios, lanes, reach, pos, site, spare
-- @usage rigcall check harbour.show.lua --only landing
-- @output fail landing fixture 101 Rail 1: lands in universe 2 (transmitter T1, lane 2), patched in universe 1: key in lane 1
-- @output fail landing fixture 102 Rail 2: lands nowhere: no transmitter on the air has code 40718264
local by_code -- made when the first fixture lands nowhere

local function on_the_air(code)
  if not by_code then
    by_code = {}
    for t in rig.transmitters() do
      if t.code and not t.spare then
        by_code[t.code] = by_code[t.code] or {}
        table.insert(by_code[t.code], t)
      end
    end
  end
  return by_code[code] or {}
end

local function has_lane(t, f)
  return t.air == f.air and f.lane >= 1 and f.lane <= t:lane_count()
end

local function why_nowhere(f)
  local list = on_the_air(f.code)
  if #list == 0 then
    return ("no transmitter on the air has code %s"):format(f.code)
  end
  for _, t in ipairs(list) do
    if has_lane(t, f) then
      return ("several transmitters match, %s is one, but it is in reach of none"):format(tostring(t))
    end
  end
  local t = list[1]
  if t.air ~= f.air then
    return ("%s has code %s but is in %s, not %s"):format(tostring(t), f.code, t.air, f.air)
  end
  local lanes = t:lane_count() == 1 and "1 lane" or t:lane_count() .. " lanes"
  return ("%s has code %s but %s, no lane %d"):format(tostring(t), f.code, lanes, f.lane)
end

local function lane_of(t, universe)
  for _, entry in ipairs(t:lanes()) do
    if entry.universe == universe and entry.lane >= 1 and entry.lane <= t:lane_count() then
      return entry.lane
    end
  end
end

local function cure(t, f)
  local lane = lane_of(t, f.universe)
  return lane and ("key in lane %d"):format(lane) or ("none of its lanes carries universe %d"):format(f.universe)
end

local say = {
  nowhere = function(f)
    return "lands nowhere: " .. why_nowhere(f)
  end,
  twice = function(f, t, _, second)
    return ("lands on %s and %s at once: give one of them another code"):format(tostring(t), tostring(second))
  end,
  empty = function(f, t)
    local text = "lane %d of %s carries no universe, patched in universe %d: %s"
    return text:format(f.lane, tostring(t), f.universe, cure(t, f))
  end,
  other = function(f, t, universe)
    local text = "lands in universe %d (%s, lane %d), patched in universe %d: %s"
    return text:format(universe, tostring(t), f.lane, f.universe, cure(t, f))
  end,
}

local function has_air(f)
  for _, air in ipairs(f:type_of().airs) do
    if air == f.air then
      return true
    end
  end
  return false
end

-- Another rule names the cause.
local function excused(f)
  local code = f.code
  return not f:mode_known() or #code ~= 8 or code:find("[^0-9]") or not has_air(f)
end

return {
  kind = "rule",
  name = "landing",
  about = "a fixture's code, air mode and lane land it nowhere, on two transmitters, or in another universe than its patch",
  severity = "fail",
  run = function()
    for f in rig.fixtures() do
      local state, transmitter, universe, second = f:landing()
      if say[state] and not excused(f) then
        finding(f, say[state](f, transmitter, universe, second))
      end
    end
  end,
}
