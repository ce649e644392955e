--- Fails every universe with fixtures that nobody sends.
-- Only `rigcall check --live` runs it: what is judged was heard on the network just before. Preview data counts for nothing, and
-- in less than 2.5 s (the loss time-out of ANSI E1.31-2018 6.7.1) nothing is called silent. What a transmitter takes by unicast is
-- heard by that transmitter alone, so that such a universe is only noted.
-- @kind rule
-- @reads the network; universes; fixtures: universe
-- @usage rigcall check harbour.show.lua --live --if eth1 --only wire-present
-- @output fail wire-present universe 2 Quay rail B: nobody sends it
-- @output fail wire-present universe 3 Barge: nobody sends it, though source "Desk" announces it
-- @output fail wire-present universe 4 Bow: nobody sends it any more; source "Desk" at 10.0.0.1 ended it 1.8 s ago
local LOSS_S = 2.5

-- The first that is live: of those that give no level it is the one to ask about. Else who ended it last.
local function suspect(heard)
  local found
  for _, source in ipairs(heard.sources) do
    if source.state == "live" then
      return source
    elseif source.state == "ended" and (not found or source.silent_s < found.silent_s) then
      found = source
    end
  end
  return found
end

-- The transmitter that a live run sends the universe to by unicast.
local function unicast_to(u)
  for _, carrier in ipairs(u:carriers()) do
    local t = carrier.transmitter
    if not t.spare and t.input == "unicast" and t.host then
      return t
    end
  end
end

local function why_silent(u, heard)
  local source, to = suspect(heard), unicast_to(u)
  if not source then
    if to then
      return ("it is not heard; transmitter %s takes it by unicast at %s, which no other host hears"):format(to.id, to.host), note
    end
    local announcer = heard.announced[1]
    return announcer and ('nobody sends it, though source "%s" announces it'):format(announcer) or "nobody sends it"
  end
  local who = ('source "%s" at %s'):format(source.name, source.address)
  if source.state == "ended" then
    return ("nobody sends it any more; %s ended it %.1f s ago"):format(who, source.silent_s)
  elseif source.preview then
    return ("nobody sends it; %s sends preview data only, which is not put out"):format(who)
  elseif heard.held then
    return ("nobody sends it; levels of %s wait for synchronisation packets"):format(who)
  end
  return ("nobody sends it; %s sends no levels (START code 0)"):format(who)
end

return {
  kind = "rule",
  name = "wire-present",
  about = "a universe with fixtures that nobody sends",
  run = function()
    if not rig.wire or rig.wire.seconds < LOSS_S then
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
          local text, report = why_silent(u, heard)
          report = report or finding
          report(u, text)
        end
      end
    end
  end,
}
