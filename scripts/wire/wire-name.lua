--- Warns of sources that cannot be told apart by their names: none, a changing one, or one name for two sources of a universe.
-- Only `rigcall check --live` runs it.
-- @kind rule
-- @reads the network; universes
-- @usage rigcall check harbour.show.lua --live --if eth1 --only wire-name
-- @output warn wire-name universe 1 Quay rail A: the source at 10.0.0.9 gives no name
-- @output warn wire-name universe 2 Quay rail B: sources at 10.0.0.1 and 10.0.0.9 both call themselves "Desk"
local function judge(u, source, by_name)
  if source.name == "" then
    finding(u, ("the source at %s gives no name"):format(source.address))
  elseif by_name[source.name] then
    finding(u, ('sources at %s and %s both call themselves "%s"'):format(by_name[source.name], source.address, source.name))
  else
    by_name[source.name] = source.address
  end
  if source.name_changes > 0 then
    finding(u, ('the source at %s, "%s" now, changed its name %s'):format(source.address, source.name,
      source.name_changes == 1 and "once" or ("%d times"):format(source.name_changes)))
  end
end

return {
  kind = "rule",
  name = "wire-name",
  about = "sources of a universe that cannot be told apart by name",
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
