--- Fails a universe that two sources send at the highest priority: fixtures get whichever level is higher, slot by slot.
-- A source of lower priority is a backup and no finding. Only `rigcall check --live` runs it.
-- @kind rule
-- @reads the network; universes
-- @usage rigcall check harbour.show.lua --live --if eth1 --only wire-rival
-- @output fail wire-rival universe 1 Quay rail A: 2 sources send it at priority 100: "Desk" at 10.0.0.1, "Old desk" at 10.0.0.9
local MOST = 4                          -- sources that are named

return {
  kind = "rule",
  name = "wire-rival",
  about = "a universe that two sources send at the highest priority",
  run = function()
    if not rig.wire then
      return
    end
    for u in rig.universes() do
      if u.wire >= 1 and u.wire <= 63999 then
        local heard = rig.wire.universe(u)
        local names = {}
        for _, source in ipairs(heard.sources) do
          if source.wins and #names < MOST then
            names[#names + 1] = ('"%s" at %s'):format(source.name, source.address)
          end
        end
        if heard.winners > #names then
          names[#names + 1] = ("and %d more"):format(heard.winners - #names)
        end
        if heard.winners > 1 then
          finding(u, ("%d sources send it at priority %d: %s"):format(heard.winners, heard.priority, table.concat(names, ", ")))
        end
      end
    end
  end,
}
