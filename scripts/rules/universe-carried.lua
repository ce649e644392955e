--- Fails a universe that has wireless fixtures but is on no lane.
-- A patched fixture with a join code is wireless. Spare transmitters carry nothing until a swap, and neither do lanes
-- that do not exist. A transmitter without a join code counts by its lanes: that it is off the air shows in landing.
-- @kind rule
-- @reads fixtures: universe, code, wired; transmitters: lanes, spare; universes
-- @usage rigcall check harbour.show.lua --only universe-carried
-- @output fail universe-carried universe 7 Barge keel: 12 wireless fixtures, but no lane carries it: put it on a free lane
local function carried_universes()
  local carried = {}
  for t in rig.transmitters() do
    local top = t.spare and 0 or t:lane_count()
    for _, entry in ipairs(top > 0 and t:lanes() or {}) do
      if entry.lane >= 1 and entry.lane <= top then
        carried[entry.universe] = true
      end
    end
  end
  return carried
end

return {
  kind = "rule",
  name = "universe-carried",
  about = "a universe with wireless fixtures that no lane carries",
  severity = "fail",
  run = function()
    local carried, wireless = carried_universes(), {}
    for f in rig.fixtures() do
      local universe = f.universe
      if universe and not carried[universe] and f.code and not f.wired then
        wireless[universe] = (wireless[universe] or 0) + 1
      end
    end
    for u in rig.universes() do
      local count = wireless[u.id]
      if count then
        wireless[u.id] = nil -- a repeated id is reported once
        local fixtures = count == 1 and "1 wireless fixture" or count .. " wireless fixtures"
        finding(u, fixtures .. ", but no lane carries it: put it on a free lane")
      end
    end
  end,
}
