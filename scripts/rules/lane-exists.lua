--- Fails a lane that the transmitter does not have: radios x 1 lane in single, radios x 2 in dual, numbered from 1.
-- The transmitter is the subject, once for each such lane number. Lane 0 does not exist.
-- @kind rule
-- @reads transmitters: radios, air, lanes
-- @usage rigcall check harbour.show.lua --only lane-exists
-- @output fail lane-exists transmitter T1 Quay mast: lane 9 carries universe 12, but 4 radios in dual have lanes 1..8
local function has(t)
  local top, radios = t:lane_count(), t.radios
  local lanes = top > 1 and "lanes 1.." .. top or top == 1 and "lane 1 only" or "no lane"
  return (radios == 1 and "1 radio in %s has %s" or radios .. " radios in %s have %s"):format(t.air, lanes)
end

return {
  kind = "rule",
  name = "lane-exists",
  about = "a lane above what the transmitter's radios and air mode give",
  severity = "fail",
  run = function()
    for t in rig.transmitters() do
      local top, told = t:lane_count(), {}
      for _, entry in ipairs(t:lanes()) do
        local lane = entry.lane
        if (lane < 1 or lane > top) and not told[lane] then
          told[lane] = true
          finding(t, ("lane %d carries universe %d, but %s"):format(lane, entry.universe, has(t)))
        end
      end
    end
  end,
}
