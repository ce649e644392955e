--- Fails two fixtures that share a slot of one universe, each pair once; the one with the lower id is the subject.
-- Only slots 1..512 are shared. Fixtures bound by `same_as` may stand on one and the same start address; a partial
-- overlap of two of them is still a mistake. The sweep goes along each universe once and costs no more than what
-- overlaps.
-- @kind rule
-- @reads fixtures: universe, address, footprint, same_as
-- @usage rigcall check harbour.show.lua --only address-overlap
-- @output fail address-overlap fixture 101 Rail 1: slots 97..160 of universe 3 are also fixture 102 Rail 2
local SLOTS = 512

-- Fixtures bound by same_as, directly or through others, have one root.
local parent = {}

local function root(id)
  while parent[id] do
    parent[id] = parent[parent[id]] or parent[id]
    id = parent[id]
  end
  return id
end

local function bind_groups()
  for f in rig.fixtures() do
    if f.same_as then
      local a, b = root(f.id), root(f.same_as)
      if a ~= b then
        parent[a] = b
      end
    end
  end
end

-- `b` starts at or after `a`.
local function judge_pair(a, b, b_last)
  local low, high = math.max(b.address, 1), math.min(a:last(), b_last, SLOTS)
  if low > high then
    return
  end
  if b.id < a.id then
    a, b = b, a
  end
  local slots = low == high and ("slot %d of universe %d is"):format(low, a.universe)
    or ("slots %d..%d of universe %d are"):format(low, high, a.universe)
  finding(a, ("%s also %s"):format(slots, tostring(b)), { b })
end

-- What is open at the present address: places, each with one fixture or several that share a start address on purpose.
local open = 0
local firsts, others, roots, starts, lasts = {}, {}, {}, {}, {}

local function judge_place(place, f, last)
  judge_pair(firsts[place], f, last)
  for _, other in ipairs(others[place] or {}) do
    judge_pair(other, f, last)
  end
end

-- Drop the places that end before `from`, judge the rest, and find the one that the fixture shares on purpose.
local function sweep(f, from, last, own)
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
        judge_place(kept, f, last)
      end
    end
  end
  open = kept
  return shared
end

local function enter(f, from, last)
  local own = root(f.id)
  local shared = sweep(f, from, last, own)
  if not shared then
    open = open + 1
    firsts[open], others[open], roots[open], starts[open], lasts[open] = f, false, own, from, last
  else
    others[shared] = others[shared] or {}
    table.insert(others[shared], f)
    lasts[shared] = math.max(lasts[shared], last)
  end
end

return {
  kind = "rule",
  name = "address-overlap",
  about = "two fixtures share a slot of one universe",
  severity = "fail",
  run = function()
    local present
    bind_groups()
    for f in rig.fixtures() do
      local universe = f.universe
      if not universe then
        break -- unpatched fixtures are the last of the patch order
      end
      if universe ~= present then
        present, open = universe, 0
      end
      local from, last = f.address, f:last()
      if from and last and from <= SLOTS and last >= from then
        enter(f, from, last)
      end
    end
  end,
}
