--- Fails every universe with fixtures that nobody sends.
-- Only `rigcall check --live` runs it: what is judged was heard on the network just before. Preview data counts for nothing.
-- @kind rule
-- @reads the network; universes; fixtures: universe
-- @usage rigcall check harbour.show.lua --live --if eth1 --only wire-present
-- @output fail wire-present universe 2 Quay rail B: nobody sends it
-- @output fail wire-present universe 3 Barge: nobody sends it, though source "Desk" announces it
return {
  kind = "rule",
  name = "wire-present",
  about = "a universe with fixtures that nobody sends",
  run = function()
    if not rig.wire then
      return
    end
    local used = {}
    for f in rig.fixtures{} do
      if f.universe then
        used[f.universe] = true
      end
    end
    for u in rig.universes() do
      if used[u.id] and u.wire >= 1 and u.wire <= 63999 then
        local heard = rig.wire.universe(u)
        if heard.winners == 0 then
          local announcer = heard.announced[1]
          finding(u, announcer and ('nobody sends it, though source "%s" announces it'):format(announcer) or "nobody sends it")
        end
      end
    end
  end,
}
