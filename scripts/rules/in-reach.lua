--- Warns of a fixture beyond the reach of its transmitter.
-- Its transmitter is the one it lands on, else the only one whose code, air mode and lane match it; without one the rule
-- is silent. In reach is distance <= reach; without both positions or a reach, the same site.
-- @kind rule
-- @reads fixtures: code, air, lane, pos, site; transmitters: code, air, radios, pos, reach, site
-- @usage rigcall check harbour.show.lua --only in-reach
-- @output warn in-reach fixture 101 Rail 1: 131.4 m from transmitter T1 Quay mast, whose reach is 120 m
local function text(f, t)
  local metres = rig.distance(t, f)
  if metres and t.reach then
    return ("%.1f m from %s, whose reach is %g m"):format(metres, tostring(t), t.reach)
  end
  return ("on site %s, but %s is on site %s"):format(f.site, tostring(t), t.site)
end

return {
  kind = "rule",
  name = "in-reach",
  about = "a fixture beyond its transmitter's reach",
  severity = "warn",
  run = function()
    for f in rig.fixtures() do
      local t = f:transmitter()
      if t and not rig.in_reach(t, f) and f:mode_known() then
        finding(f, text(f, t))
      end
    end
  end,
}
