--- Fails two transmitters on the air with one join code, one within the other's reach (or, without positions or reach,
-- on one site); warns where only their reaches overlap, so that a receiver between them can join either.
-- Each pair once; the lower id is the subject. Spare transmitters are off and clash with nothing. Past half a million pairs
-- a transmitter is not judged against each other one any more: one finding says how many have its code.
-- @kind rule
-- @reads transmitters: code, spare, pos, reach, site
-- @usage rigcall check harbour.show.lua --only code-clash
-- @output fail code-clash transmitter T1: transmitter T4 has the same join code 40718263, 30.0 m away: give one another code
-- @output warn code-clash transmitter T1: transmitter T6 has the same join code 40718263, and their reaches overlap (180.0 m apart)
local PAIRS = 500000

local pairs_judged = 0

local function judge(a, b)
  local how, metres = rig.clash(a, b)
  if not how then
    return
  end
  if b.id < a.id then
    a, b = b, a
  end
  local same = ("%s has the same join code %s"):format(tostring(b), a.code)
  if how == "warn" then
    warn(a, ("%s, and their reaches overlap (%.1f m apart)"):format(same, metres), { b })
  elseif metres then
    fail(a, ("%s, %.1f m away: give one another code"):format(same, metres), { b })
  else
    fail(a, ("%s, and both are on one site: give one another code"):format(same), { b })
  end
end

-- `list` holds the transmitters before `t` that have its code.
local function judge_all(list, t)
  if pairs_judged >= PAIRS then
    fail(t, ("%d others have the same join code %s"):format(#list, t.code))
    return
  end
  pairs_judged = pairs_judged + #list
  for _, other in ipairs(list) do
    judge(other, t)
  end
end

return {
  kind = "rule",
  name = "code-clash",
  about = "two transmitters with one join code where a receiver could join either",
  severity = "fail",
  run = function()
    local with_code = {}
    for t in rig.transmitters() do
      local code = not t.spare and t.code
      if code then
        local list = with_code[code] or {}
        with_code[code] = list
        judge_all(list, t)
        list[#list + 1] = t
      end
    end
  end,
}
