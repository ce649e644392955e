--- Warns of a type that a fixture uses whose battery is empty before the call is over: battery_wh / (watts x call.level
-- / 100) hours.
-- Exactly enough is clean. A call without a level is judged at 100 %. Silent for a type without watts or battery_wh and
-- for a show without call hours.
-- @kind rule
-- @reads show: call; types: watts, battery_wh; fixtures: type
-- @usage rigcall check harbour.show.lua --only battery-lasts
-- @output warn battery-lasts type batten12 Battery batten, 12 cells: lasts 8.0 h at 100 %, the call is 10 h
local ROUNDING = 1 - 1e-9 -- decimals have no exact doubles, and exactly enough is clean

return {
  kind = "rule",
  name = "battery-lasts",
  about = "a battery that lasts shorter than the call",
  severity = "warn",
  run = function()
    local hours, level = rig.show().call_hours, rig.show().call_level or 100
    if not hours then
      return
    end
    for type in rig.types() do
      local watts, battery_wh = type.watts, type.battery_wh
      if watts and battery_wh and battery_wh * 100 < hours * watts * level * ROUNDING and type:used() then
        finding(type, ("lasts %.1f h at %g %%, the call is %g h"):format(battery_wh * 100 / (watts * level), level, hours))
      end
    end
  end,
}
