--- Warns of sources that cannot be told apart: no name, a changing one, one name for two sources of a universe, an address that
-- changes.
-- Only `rigcall check --live` runs it.
-- @kind rule
-- @reads the network; universes
-- @usage rigcall check harbour.show.lua --live --if eth1 --only wire-name
-- @output warn wire-name universe 1 Quay rail A: the source at 10.0.0.9 gives no name
-- @output warn wire-name universe 2 Quay rail B: sources at 10.0.0.1 and 10.0.0.9 both call themselves "Desk"
local function times(count)
  return count == 1 and "once" or ("%d times"):format(count)
end

local function judge(u, source, by_name)
  if source.name == "" then
    finding(u, ("the source at %s gives no name"):format(source.address))
  end
  if source.name_changes > 0 then
    finding(u, ('the source at %s, "%s" now, changed its name %s'):format(source.address, source.name, times(source.name_changes)))
  end
  if source.address_changes > 0 then
    finding(u, ('source "%s", at %s now, changed its address %s: two machines with one CID look like that'):format(source.name,
      source.address, times(source.address_changes)))
  end
  if source.name ~= "" and by_name[source.name] then
    finding(u, ('sources at %s and %s both call themselves "%s"'):format(by_name[source.name], source.address, source.name))
  end
  by_name[source.name] = by_name[source.name] or source.address
end

return {
  kind = "rule",
  name = "wire-name",
  about = "sources of a universe that cannot be told apart",
  severity = "warn",
  run = function()
    if not rig.wire then
      return
    end
    for u in rig.universes() do
      if u.wire >= 1 and u.wire <= 63999 then
        local by_name = {}
        for _, source in ipairs(rig.wire.universe(u).sources) do
          if source.state == "live" then
            judge(u, source, by_name)
          end
        end
      end
    end
  end,
}
