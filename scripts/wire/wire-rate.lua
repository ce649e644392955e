--- Warns of a source that sends a universe faster than DMX512 carries, stops for longer than its keep-alive allows, goes away
-- without saying so, or loses packets on the way; and of synchronisation that has stopped.
-- At most the refresh limit of ANSI E1.11 for its number of slots (ANSI E1.31-2018 6.6.1: 44.1 a second at 512); unchanged levels
-- are repeated within 1 s (6.6.2); numbers of the sequence (6.7.2) that are missing, late or twice are counted. Only
-- `rigcall check --live` runs it.
-- @kind rule
-- @reads the network; universes
-- @usage rigcall check harbour.show.lua --live --if eth1 --only wire-rate
-- @output warn wire-rate universe 1 Quay rail A: source "Desk" at 10.0.0.1: of 132 packets 12 are missing, 0 late, 0 twice
local GRACE = 1.02                      -- and one packet more: a rate is counted over one second
local GAP_S = 1.1                       -- 1 s, and what a network dawdles

local function times(count)
  return count == 1 and "once" or ("%d times"):format(count)
end

local function judge_presence(u, source, who)
  if source.losses > 0 then
    finding(u, ("%s sent nothing for 2.5 s or more %s, and came back"):format(who, times(source.losses)))
  end
  if source.state == "lost" then
    finding(u, ("%s stopped %.1f s ago without saying so"):format(who, source.silent_s))
  end
end

local function judge_flow(u, source, who)
  if source.rate_hz > source.rate_most_hz * GRACE + 1 then
    finding(u, ("%s sends %.1f packets a second, %d slots allow %.1f"):format(who, source.rate_hz, source.slots, source.rate_most_hz))
  end
  if source.gap_s > GAP_S then
    finding(u, ("%s once sent nothing for %.1f s, unchanged levels are to be repeated within 1 s"):format(who, source.gap_s))
  end
  if source.missing + source.late + source.repeated > 0 then
    finding(u, ("%s: of %d packets %d are missing, %d late, %d twice"):format(who, source.packets + source.missing, source.missing,
      source.late, source.repeated))
  end
  if source.restarts > 0 then
    finding(u, ("%s began its sequence numbers anew %s"):format(who, times(source.restarts)))
  end
end

return {
  kind = "rule",
  name = "wire-rate",
  about = "a source that sends too fast, with gaps, or loses packets, or went away",
  severity = "warn",
  run = function()
    if not rig.wire then
      return
    end
    for u in rig.universes() do
      if u.wire >= 1 and u.wire <= 63999 then
        local heard = rig.wire.universe(u)
        if heard.sync == "lost" then
          finding(u, "its synchronisation packets have stopped coming")
        end
        for _, source in ipairs(heard.sources) do
          local who = ('source "%s" at %s'):format(source.name, source.address)
          judge_presence(u, source, who)
          judge_flow(u, source, who)
        end
      end
    end
  end,
}
