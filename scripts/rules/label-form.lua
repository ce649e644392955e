--- Warns of a universe label that is missing, over 32 characters, or also that of another universe.
-- Characters are code points. Universes with one label are reported in pairs, each once; the lower id is the subject.
-- Past half a million pairs a universe gets one finding for all those it meets.
-- @kind rule
-- @reads universes: label
-- @usage rigcall check harbour.show.lua --only label-form
-- @output warn label-form universe 4: has no label
-- @output warn label-form universe 5 Barge: the label is also that of universe 9 Barge
local MOST = 32
local PAIRS = 500000

local pairs_told = 0

local function judge_pair(a, b)
  if b.id < a.id then
    a, b = b, a
  end
  pairs_told = pairs_told + 1
  finding(a, ("the label is also that of %s"):format(tostring(b)), { b })
end

-- `list` holds the universes before `u` that have its label.
local function judge_repeated(list, u)
  if pairs_told >= PAIRS then
    finding(u, ("the label is also that of %d others"):format(#list))
    return
  end
  for _, other in ipairs(list) do
    judge_pair(other, u)
  end
end

return {
  kind = "rule",
  name = "label-form",
  about = "a universe label missing, repeated or over 32 characters",
  severity = "warn",
  run = function()
    local with_label = {}
    for u in rig.universes() do
      local label = u.label
      if not label or label == "" then
        finding(u, "has no label")
      else
        local length = rig.text_length(label)
        if length > MOST then
          finding(u, ("the label has %d characters, at most %d fit on paper"):format(length, MOST))
        end
        local list = with_label[label]
        if list then
          judge_repeated(list, u)
          list[#list + 1] = u
        else
          with_label[label] = { u }
        end
      end
    end
  end,
}
