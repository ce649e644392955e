--- Fails a lane that is given two universes, or one universe twice: a lane carries one.
-- The transmitter is the subject, once for each such lane. Lanes that do not exist are lane-exists' matter.
-- @kind rule
-- @reads transmitters: lanes
-- @usage rigcall check harbour.show.lua --only lane-shared
-- @output fail lane-shared transmitter T1 Quay mast: lane 3 is given universe 5 and universe 6
local function judge(t)
  local top, universe_of, told = t:lane_count(), {}, {}
  for _, entry in ipairs(t:lanes()) do
    local lane, universe = entry.lane, entry.universe
    if lane >= 1 and lane <= top then
      local before = universe_of[lane]
      if before and not told[lane] then
        told[lane] = true
        finding(t, before == universe and ("lane %d is given universe %d twice"):format(lane, universe)
          or ("lane %d is given universe %d and universe %d"):format(lane, before, universe))
      end
      universe_of[lane] = before or universe
    end
  end
end

return {
  kind = "rule",
  name = "lane-shared",
  about = "one lane is given two universes",
  severity = "fail",
  run = function()
    for t in rig.transmitters() do
      judge(t)
    end
  end,
}
