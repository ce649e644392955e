--- Fails a wire number outside 1..63999 (data universes of ANSI E1.31) and a wire number that two universes have.
-- The wire number is the sACN universe that goes out, by default the id. Each pair is reported once; the lower id is the
-- subject. Past half a million pairs a universe gets one finding for all those it meets.
-- @kind rule
-- @reads universes: id, wire
-- @usage rigcall check harbour.show.lua --only universe-number
-- @output fail universe-number universe 64000 Quay rail C: wire number 64000, allowed are 1..63999 (E1.31)
-- @output fail universe-number universe 3 Barge A: wire number 12 is also that of universe 12 Barge B
local LEAST, MOST = 1, 63999
local PAIRS = 500000

local pairs_told = 0

local function judge_pair(a, b)
  -- Two entries with one id and no wire number of their own are one mistake, which ids-unique names.
  if a.id == b.id and a.wire == a.id then
    return
  end
  if b.id < a.id then
    a, b = b, a
  end
  pairs_told = pairs_told + 1
  finding(a, ("wire number %d is also that of %s"):format(a.wire, tostring(b)), { b })
end

-- `list` holds the universes before `u` that have its wire number.
local function judge_shared(list, u)
  if pairs_told >= PAIRS then
    finding(u, ("wire number %d is also that of %d others"):format(u.wire, #list))
    return
  end
  for _, other in ipairs(list) do
    judge_pair(other, u)
  end
end

return {
  kind = "rule",
  name = "universe-number",
  about = "the wire number outside 1..63999, or one wire number on two universes",
  severity = "fail",
  run = function()
    local with_wire = {}
    for u in rig.universes() do
      local wire = u.wire
      if wire < LEAST or wire > MOST then
        finding(u, ("wire number %d, allowed are %d..%d (E1.31)"):format(wire, LEAST, MOST))
      elseif with_wire[wire] then
        judge_shared(with_wire[wire], u)
        table.insert(with_wire[wire], u)
      else
        with_wire[wire] = { u }
      end
    end
  end,
}
