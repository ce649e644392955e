--- Fails two fixtures that share a slot of one universe, each pair once; the one with the lower id is the subject.
-- Only slots 1..512 are shared. Fixtures bound by `same_as` may stand on one and the same start address; a partial overlap
-- of two of them is still a mistake. One sweep along each universe, so the cost is that of what overlaps; past half a million
-- pairs a fixture gets one finding for all those it meets.
-- @kind rule
-- @reads fixtures: universe, address, footprint, same_as
-- @usage rigcall check harbour.show.lua --only address-overlap
-- @output fail address-overlap fixture 101 Rail 1: slots 97..160 of universe 3 are also fixture 102 Rail 2
local SLOTS = 512
local PAIRS = 500000

-- Fixtures bound by same_as, directly or through others, have one root.
local parent, bound = {}, {}

local function root(id)
  while parent[id] do
    parent[id] = parent[parent[id]] or parent[id]
    id = parent[id]
  end
  return id
end

local function bind()
  for f in rig.fixtures() do
    local other = f.same_as
    if other then
      local a, b = root(f.id), root(other)
      bound[f.id], bound[other] = true, true
      if a ~= b then
        parent[a] = b
      end
    end
  end
end

local pairs_told = 0

local function text(low, high, universe, whom)
  return low == high and ("slot %d of universe %d is also %s"):format(low, universe, whom)
    or ("slots %d..%d of universe %d are also %s"):format(low, high, universe, whom)
end

-- `b` starts at or after `a`.
local function judge_pair(a, b)
  local low, high = math.max(b.address, 1), math.min(a:last(), b:last(), SLOTS)
  if low > high then
    return
  end
  if b.id < a.id then
    a, b = b, a
  end
  pairs_told = pairs_told + 1
  finding(a, text(low, high, a.universe, tostring(b)), { b })
end

-- What is open at the present address: places, each with one fixture or several that share a start address on purpose.
local open = 0
local firsts, others, roots, starts, lasts = {}, {}, {}, {}, {}

local function judge_place(place, f)
  judge_pair(firsts[place], f)
  for _, other in ipairs(others[place] or {}) do
    judge_pair(other, f)
  end
end

-- Drop the places that end before `from`, judge the rest, and find the one that the fixture shares on purpose.
local function sweep(f, from, own)
  local kept, shared = 0, nil
  for i = 1, open do
    if lasts[i] >= from then
      kept = kept + 1
      if kept < i then
        firsts[kept], others[kept], roots[kept] = firsts[i], others[i], roots[i]
        starts[kept], lasts[kept] = starts[i], lasts[i]
      end
      if starts[kept] == from and roots[kept] == own then
        shared = kept
      else
        judge_place(kept, f)
      end
    end
  end
  open = kept
  return shared
end

local function enter(f, from, last)
  local own = root(f.id)
  local shared = sweep(f, from, own)
  if not shared then
    open = open + 1
    firsts[open], others[open], roots[open], starts[open], lasts[open] = f, false, own, from, last
  else
    others[shared] = others[shared] or {}
    table.insert(others[shared], f)
    lasts[shared] = math.max(lasts[shared], last)
  end
end

-- How many fixtures of the universe began at or before the present slot, and how many of them ended before it.
local begun, ended, ends_at, slot = 0, 0, {}, 1

local function meets(low, high)
  while slot < low do
    ended = ended + (ends_at[slot] or 0)
    slot = slot + 1
  end
  local met = begun - ended
  begun = begun + 1
  ends_at[high] = (ends_at[high] or 0) + 1
  return met
end

local function judge(f, from, last)
  local low, high = math.max(from, 1), math.min(last, SLOTS)
  local met = low <= high and meets(low, high)
  if not met then
    return
  elseif met == 0 then
    open = 0
  elseif pairs_told >= PAIRS and not bound[f.id] then
    finding(f, text(low, high, f.universe, "in use by " .. met .. (met == 1 and " other fixture" or " other fixtures")))
    return
  end
  if pairs_told < PAIRS then
    enter(f, from, last)
  end
end

return {
  kind = "rule",
  name = "address-overlap",
  about = "two fixtures share a slot of one universe",
  severity = "fail",
  run = function()
    local present
    bind()
    for f in rig.fixtures() do
      local universe = f.universe
      if not universe then
        break -- unpatched fixtures are the last of the patch order
      end
      if universe ~= present then
        present, open, begun, ended, ends_at, slot = universe, 0, 0, 0, {}, 1
      end
      local from, last = f.address, f:last()
      if from and last then
        judge(f, from, last)
      end
    end
  end,
}
