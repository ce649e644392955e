--- Fails a site, universe or `same_as` that nothing in the show defines.
-- Judged are fixtures (site, universe, same_as) and transmitters (site, and the universes of their lanes: one finding a
-- universe). Types and modes are type-known's; a fixture with an unknown one is not judged here.
-- @kind rule
-- @reads fixtures: site, universe, same_as; transmitters: site, lanes; sites, universes: id
-- @usage rigcall check harbour.show.lua --only reference-known
-- @output fail reference-known fixture 101 Rail 1: universe 31 is not in the show: list it in universes, or patch elsewhere
-- @output fail reference-known transmitter T1 Quay mast: lane 3 carries universe 31, which is not in the show
local sites, universes = {}, {}

local function judge_fixture(f, site, universe, same_as)
  if not sites[site] then
    finding(f, ("site %s is not in the show"):format(site))
  end
  if universe and not universes[universe] then
    finding(f, ("universe %d is not in the show: list it in universes, or patch elsewhere"):format(universe))
  end
  if same_as and not rig.get("fixture", same_as) then
    finding(f, ("same_as names fixture %d, which is not in the show"):format(same_as))
  end
end

local function judge_transmitter(t)
  local told = {}
  if not sites[t.site] then
    finding(t, ("site %s is not in the show"):format(t.site))
  end
  for _, entry in ipairs(t:lanes()) do
    local universe = entry.universe
    if not universes[universe] and not told[universe] then
      told[universe] = true
      finding(t, ("lane %d carries universe %d, which is not in the show"):format(entry.lane, universe))
    end
  end
end

return {
  kind = "rule",
  name = "reference-known",
  about = "a site, universe or same_as that nothing in the show defines",
  severity = "fail",
  run = function()
    for site in rig.sites() do
      sites[site.id] = true
    end
    for u in rig.universes() do
      universes[u.id] = true
    end
    for t in rig.transmitters() do
      judge_transmitter(t)
    end
    for f in rig.fixtures() do
      local site, universe, same_as = f.site, f.universe, f.same_as
      if (same_as or not sites[site] or universe and not universes[universe]) and f:mode_known() then
        judge_fixture(f, site, universe, same_as)
      end
    end
  end,
}
