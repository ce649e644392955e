-- slot-walk: one slot at a time, each slot of each fixture that is neither strobe nor motion; slots of unknown work only when asked.
package.path = SOURCE .. "/tests/sequences/?.lua"
local play = require("play")

local service = { control = true, sparkle = true, macro = true }

local function walk_of(f, set)
  local walk = {}
  for _, slot in ipairs(f.list) do
    local skip = slot.kind == "strobe" or slot.kind == "motion" or (service[slot.name] and not set.others)
      or (set.lit and slot.kind == "intensity")
    if not skip then walk[#walk + 1] = slot end
  end
  return walk
end

local function clear(up, f, walk)
  for _, slot in ipairs(walk) do up[play.key(f.wire, slot.slot)] = nil end
end

-- What is up in one step of one fixture's walk.
local function put_step(up, f, walk, step, set)
  for _, slot in ipairs(f.list) do
    if set.lit and slot.kind == "intensity" then up[play.key(f.wire, slot.slot)] = play.level8(set.level) end
  end
  if walk[step] then up[play.key(f.wire, walk[step].slot)] = play.level8(set.level) end
end

local function judge(path, options)
  local set = options.set
  local fixtures, rest = {}, nil
  for _, f in ipairs(play.show(path)) do
    if not options.among or options.among(f) then fixtures[#fixtures + 1] = f end
  end
  rest = play.defaults(fixtures)
  local steps, longest, walks = {}, 0, {}
  for _, f in ipairs(fixtures) do
    local walk = walk_of(f, set)
    if not f.hazard and #walk > 0 then
      walks[#walks + 1] = { f = f, walk = walk }
      longest = math.max(longest, #walk)
      for step = 1, #walk do steps[#steps + 1] = { f = f, walk = walk, step = step } end
    end
  end
  local count = set.together and longest or #steps
  local seen, wanted, step_of = {}, nil, nil
  local _, text, line, last = play.dry(path, "slot-walk", options, function(time, up)
    local step = math.floor(time / set.hold + 1e-6) + 1
    if step ~= step_of then
      step_of, wanted = step, play.copy(rest)
      seen[step] = true
      if step > count then
        wanted = rest
      elseif set.together then
        for _, item in ipairs(walks) do clear(wanted, item.f, item.walk) end
        for _, item in ipairs(walks) do put_step(wanted, item.f, item.walk, step, set) end
      else
        clear(wanted, steps[step].f, steps[step].walk)
        put_step(wanted, steps[step].f, steps[step].walk, steps[step].step, set)
      end
    end
    play.same(time, up, wanted)
  end)
  for step = 1, count do assert(seen[step], ("%s: step %d was never seen"):format(line, step)) end
  play.ended(line, last, count * set.hold, options, text)
end

-- By hand: odd type "spot" has 14 slots; without pan (2), shutter, zoom, control and sparkle 8 are left, with others 10.
for _, f in ipairs(play.show(play.odd)) do
  if f.type == "spot" then
    assert(#walk_of(f, {}) == 8)
    assert(#walk_of(f, { others = true }) == 10)
  end
end

judge(play.odd, { set = { hold = 0.5, level = 100 } })
judge(play.odd, { set = { hold = 0.5, level = 100, others = true } })
judge(play.odd, { set = { hold = 0.5, level = 100, lit = true } })
judge(play.odd, { set = { hold = 0.5, level = 100, together = true } })
judge(play.odd, { set = { hold = 60, level = 1, together = true } })
judge(play.courtyard, { set = { hold = 0.5, level = 100 } })
judge(play.courtyard, { set = { hold = 0.5, level = 37, lit = true, together = true }, rate = 44 })
judge(play.harbour, { set = { hold = 0.5, level = 100, together = true } })
judge(play.harbour, { set = { hold = 0.5, level = 100 }, rate = 10, where = "universe=2,8",
  among = function(f) return f.universe == 2 or f.universe == 8 end })

-- 22,478 slots (counted below) of 60 s each are more than 15 days; a run lasts one. One line, nothing sent.
local slots = 0
for _, f in ipairs(play.show(play.harbour)) do
  if not f.hazard then slots = slots + #walk_of(f, {}) end
end
local status, text = play.dry(play.harbour, "slot-walk", { set = { hold = 60 } })
assert(status == 5, text)
assert(text:find(slots .. " slots in all would take", 1, true) and text:find("a run lasts at most 24 h", 1, true), text)
