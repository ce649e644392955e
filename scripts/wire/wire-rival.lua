--- Fails a universe that two sources send at the highest priority: fixtures get whichever level is higher, slot by slot.
-- A source of lower priority is a backup and no finding. Notes a universe that is sent at another priority than the show gives it,
-- because a live run of the show would then not be seen, or take over. Only `rigcall check --live` runs it.
-- @kind rule
-- @reads the network; universes
-- @usage rigcall check harbour.show.lua --live --if eth1 --only wire-rival
-- @output fail wire-rival universe 1 Quay rail A: 2 sources send it at priority 100: "Desk" at 10.0.0.1, "Old desk" at 10.0.0.9
-- @output note wire-rival universe 2 Quay rail B: it is sent at priority 120, above the 100 of the show: a live run would not be seen
local MOST = 4                          -- sources that are named

local function judge_rivals(u, heard)
  local names = {}
  for _, source in ipairs(heard.sources) do
    if source.wins and #names < MOST then
      names[#names + 1] = ('"%s" at %s'):format(source.name, source.address)
    end
  end
  if heard.winners > #names then
    names[#names + 1] = ("and %d more"):format(heard.winners - #names)
  end
  finding(u, ("%d sources send it at priority %d: %s"):format(heard.winners, heard.priority, table.concat(names, ", ")))
end

local function judge_priority(u, heard)
  local above = heard.priority > u.priority
  note(u, ("it is sent at priority %d, %s the %d of the show: a live run would %s"):format(heard.priority,
    above and "above" or "below", u.priority, above and "not be seen" or "take it over"))
end

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
        if heard.winners > 1 then
          judge_rivals(u, heard)
        end
        if heard.winners > 0 and heard.priority ~= u.priority then
          judge_priority(u, heard)
        end
      end
    end
  end,
}
