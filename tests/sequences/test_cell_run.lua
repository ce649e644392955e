-- cell-run: of each fixture with cells exactly the cell whose turn it is shows light.
package.path = SOURCE .. "/tests/sequences/?.lua"
local play = require("play")

-- What stands around the cells and what a cell shows, by hand; L is the level.
local L <const> = "level"
local types = {
  tile32 = { around = {}, cell = { white = L } },
  batten12 = { around = {}, cell = { intensity = L, white = 100 } },
  tube16 = { around = { intensity = L }, cell = { red = 100, green = 100, blue = 100 } },
  lantern = { around = {}, cell = { intensity = L, warm_white = 100, cool_white = 100 } },
  pixels = { around = {}, cell = { red = L, green = L, blue = L } },
  bar = { around = { intensity = L }, cell = { white = 100 } },
  house = { around = {}, cell = { intensity = L, red = 100, green = 100, blue = 100 } },
}

local function clear(up, f)
  for _, slot in ipairs(f.list) do
    if slot.kind == "intensity" or slot.kind == "colour" then up[play.key(f.wire, slot.slot)] = nil end
  end
end

local function put(up, f, n, level)
  for name, value in pairs(types[f.type].around) do play.put(up, f, name, value == L and level or value) end
  for name, value in pairs(n <= f.cells and types[f.type].cell or {}) do play.put(up, f, name, value == L and level or value, n) end
end

local function judge(path, options)
  local set = options.set
  local rounds, together = set.rounds or 1, set.together ~= false
  local fixtures, list, longest = {}, {}, 0
  for _, f in ipairs(play.show(path)) do
    if not options.among or options.among(f) then
      fixtures[#fixtures + 1] = f
      if types[f.type] then
        list[#list + 1] = f
        longest = math.max(longest, f.cells)
      end
    end
  end
  local rest, steps = play.defaults(fixtures), {}               -- each step: fixtures and the cell
  if together then
    for step = 0, rounds * longest - 1 do steps[#steps + 1] = { list = list, n = step % longest + 1 } end
  else
    for _, f in ipairs(list) do
      for step = 0, rounds * f.cells - 1 do steps[#steps + 1] = { list = { f }, n = step % f.cells + 1 } end
    end
  end
  -- A single cell stays up from one round to the next: then no packet is due, and a step may pass unseen.
  local seen, wanted, step_of = {}, nil, nil
  local _, text, line, last = play.dry(path, "cell-run", options, function(time, up)
    local step = math.floor(time / set.step + 1e-6) + 1
    if step ~= step_of then
      step_of, wanted = step, play.copy(rest)
      seen[step] = true
      local those = steps[step] and steps[step].list or {}
      for _, f in ipairs(those) do clear(wanted, f) end
      for _, f in ipairs(those) do put(wanted, f, steps[step].n, set.level) end
    end
    play.same(time, up, wanted)
  end)
  for step = 1, #steps do
    local still = step > 1 and steps[step].list[1] == steps[step - 1].list[1] and steps[step].n == steps[step - 1].n
    assert(seen[step] or still, ("%s: step %d was never seen"):format(line, step))
  end
  play.ended(line, last, #steps * set.step, options, text)
end

judge(play.courtyard, { set = { step = 0.5, level = 50 } })
judge(play.courtyard, { set = { step = 0.5, level = 100, rounds = 20, together = false } })
judge(play.courtyard, { set = { step = 60, level = 1 } })
judge(play.odd, { set = { step = 0.5, level = 100, rounds = 20 } })
judge(play.odd, { set = { step = 0.5, level = 100, rounds = 3, together = false }, rate = 44 })
judge(play.harbour, { set = { step = 0.5, level = 100, rounds = 3 }, where = "site=barge", among = function(f) return f.site == "barge" end })
judge(play.harbour, { set = { step = 0.5, level = 100 }, rate = 10 })
