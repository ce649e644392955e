--- Fails a fixture whose firmware is below what its type needs for its air mode.
-- Versions are compared number by number, missing parts are 0: 3.10 is above 3.9, and 3 equals 3.0. A fixture without
-- firmware, or a type without a floor, is silent.
-- @kind rule
-- @reads fixtures: firmware, air, type; types: firmware_floor
-- @usage rigcall check harbour.show.lua --only firmware-floor
-- @output fail firmware-floor fixture 101 Rail 1: firmware 2.9, type batten12 needs 3.1 for dual: update it
local function numbers(version)
  local list = {}
  for digits in version:gmatch("[0-9]+") do
    list[#list + 1] = tonumber(digits)
  end
  return list
end

local function is_below(version, floor)
  local have, need = numbers(version), numbers(floor)
  for i = 1, math.max(#have, #need) do
    local a, b = have[i] or 0, need[i] or 0
    if a ~= b then
      return a < b
    end
  end
  return false
end

local below = {} -- by floor, then version: many fixtures have one

local function judge(f, version, floor)
  local known = below[floor]
  if known[version] == nil then
    known[version] = is_below(version, floor)
  end
  if known[version] and f:mode_known() then
    finding(f, ("firmware %s, type %s needs %s for %s: update it"):format(version, f.type, floor, f.air))
  end
end

local function floors_of(type)
  local floors
  for _, air in ipairs { "single", "dual" } do
    local floor = type:firmware_floor(air)
    if floor then
      floors = floors or {}
      floors[air] = floor
      below[floor] = below[floor] or {}
    end
  end
  return floors
end

return {
  kind = "rule",
  name = "firmware-floor",
  about = "firmware below what the type needs for its air mode",
  severity = "fail",
  run = function()
    local of_type = {}
    for type in rig.types() do
      if of_type[type.id] == nil then
        of_type[type.id] = floors_of(type) or false
      end
    end
    for f in rig.fixtures() do
      local floors = of_type[f.type]
      local floor = floors and floors[f.air or ""]
      local version = floor and f.firmware
      if version then
        judge(f, version, floor)
      end
    end
  end,
}
