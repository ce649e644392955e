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

-- Fixtures bound by same_as, directly or through others, have one root. Made when the first two fixtures meet.
local parent, bound

local function root(id)
  while parent[id] do
    parent[id] = parent[parent[id]] or parent[id]
    id = parent[id]
  end
  return id
end

local function bind()
  parent, bound = {}, {}
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
local firsts, others, starts, lasts = {}, {}, {}, {}

local function judge_place(place, f)
  judge_pair(firsts[place], f)
  for _, other in ipairs(others[place] or {}) do
    judge_pair(other, f)
  end
end

-- Drop the places that end before `from`, judge the rest, and find the one that the fixture shares on purpose.
local function sweep(f, from)
  local kept, shared, own = 0, nil, root(f.id)
  for i = 1, open do
    if lasts[i] >= from then
      kept = kept + 1
      if kept < i then
        firsts[kept], others[kept], starts[kept], lasts[kept] = firsts[i], others[i], starts[i], lasts[i]
      end
      if bound[f.id] and starts[kept] == from and root(firsts[kept].id) == own then
        shared = kept
      else
        judge_place(kept, f)
      end
    end
  end
  open = kept
  return shared
end

local function open_place(f, from, last)
  open = open + 1
  firsts[open], others[open], starts[open], lasts[open] = f, false, from, last
end

local function enter(f, from, last)
  local shared = sweep(f, from)
  if not shared then
    open_place(f, from, last)
  else
    others[shared] = others[shared] or {}
    table.insert(others[shared], f)
    lasts[shared] = math.max(lasts[shared], last)
  end
end

local furthest = 0 -- the last slot in use so far in this universe

-- Somebody is still on slot `low`.
local function judge_crowded(f, from, last, low, high)
  if not parent then
    bind()
  end
  if pairs_told < PAIRS then
    enter(f, from, last)
  elseif not bound[f.id] then
    finding(f, text(low, high, f.universe, "in use by others"))
  end
  furthest = math.max(furthest, high)
end

local function judge(f, from, last)
  local low, high = from < 1 and 1 or from, last > SLOTS and SLOTS or last
  if low > high then
    return
  elseif low > furthest then
    furthest, open = high, 0
    open_place(f, from, last)
  else
    judge_crowded(f, from, last, low, high)
  end
end

return {
  kind = "rule",
  name = "address-overlap",
  about = "two fixtures share a slot of one universe",
  severity = "fail",
  run = function()
    local present
    for f in rig.fixtures() do
      local universe = f.universe
      if not universe then
        break -- unpatched fixtures are the last of the patch order
      end
      if universe ~= present then
        present, furthest = universe, 0
      end
      local from, last = f.address, f:last()
      if from and last then
        judge(f, from, last)
      end
    end
  end,
}
