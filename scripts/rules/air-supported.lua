--- Fails an air mode that the fixture's type or the transmitter does not have.
-- A fixture's air mode is judged against its type's `airs`, a transmitter's against its own.
-- @kind rule
-- @reads fixtures: air, type; types: airs; transmitters: air, airs
-- @usage rigcall check harbour.show.lua --only air-supported
-- @output fail air-supported fixture 101 Rail 1: air mode dual, but type spot7 has single only
local function set_of(airs)
  local set = {}
  for _, air in ipairs(airs) do
    set[air] = true
  end
  return set
end

local function what(set)
  local air = next(set)
  return air and ("has %s only"):format(air) or "has no air mode"
end

return {
  kind = "rule",
  name = "air-supported",
  about = "an air mode that the fixture's type or the transmitter does not have",
  severity = "fail",
  run = function()
    local of_type = {}
    for type in rig.types() do
      of_type[type.id] = of_type[type.id] or set_of(type.airs)
    end
    for t in rig.transmitters() do
      local set = set_of(t.airs)
      if not set[t.air] then
        finding(t, ("air mode %s, but it %s"):format(t.air, what(set)))
      end
    end
    for f in rig.fixtures() do
      local air, set = f.air, of_type[f.type]
      if air and set and not set[air] and f:mode_known() then
        finding(f, ("air mode %s, but type %s %s"):format(air, f.type, what(set)))
      end
    end
  end,
}
