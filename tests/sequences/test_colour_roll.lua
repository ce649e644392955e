-- colour-roll: one colour parameter up at a time, each in its turn on every fixture that has it, up and down by straight fades.
package.path = SOURCE .. "/tests/sequences/?.lua"
local play = require("play")

-- The order in which the colours come (the doc of scripts/lib/lights.lua).
local order = { "red", "green", "blue", "white", "warm_white", "cool_white", "amber" }

local function judge(path, options)
  local set = options.set
  local fixtures = play.show(path)
  local rest, list, used, any = play.defaults(fixtures), {}, {}, {}
  for _, f in ipairs(fixtures) do
    f.has = {}
    for _, slot in ipairs(f.list) do
      f.has[slot.name] = true
      if slot.kind == "colour" and not f.hazard then
        any[slot.name] = true
        if list[#list] ~= f then list[#list + 1] = f end
      end
    end
  end
  for _, name in ipairs(order) do
    if any[name] then used[#used + 1] = name end
  end
  local rounds, turn = set.rounds or 1, 2 * set.fade + set.hold
  local seen = {}
  local _, text, line, last = play.dry(path, "colour-roll", options, function(time, up)
    if time < set.fade - 1e-6 then return end                     -- the first fade takes colours with a default to 0
    local into = time - set.fade
    local turn_number = math.floor(into / turn + 1e-6)
    if turn_number >= rounds * #used then return end
    local name = used[turn_number % #used + 1]
    into = into - turn_number * turn
    local part = into < set.fade and into / set.fade or into <= set.fade + set.hold and 1 or (turn - into) / set.fade
    local wanted = play.copy(rest)
    for _, f in ipairs(list) do
      for _, slot in ipairs(f.list) do
        if slot.kind == "colour" then wanted[play.key(f.wire, slot.slot)] = nil end
      end
    end
    for _, f in ipairs(list) do
      if f.has.intensity then play.put(wanted, f, "intensity", set.level) end
      play.put(wanted, f, name, math.max(0, part) * (f.has.intensity and 100 or set.level))
    end
    if part == 1 then seen[turn_number] = true end
    for _, f in ipairs(fixtures) do play.near_among(time, up, wanted, f, f.has) end
  end)
  for number = 0, rounds * #used - 1 do assert(seen[number], ("%s: turn %d never reached its top"):format(line, number)) end
  play.ended(line, last, set.fade + rounds * #used * turn, options, text)
end

judge(play.courtyard, { set = { fade = 1.5, hold = 2, level = 50 } })
judge(play.courtyard, { set = { fade = 0.5, hold = 0, level = 100, rounds = 20 } })
judge(play.courtyard, { set = { fade = 60, hold = 600, level = 1 }, rate = 5 })
judge(play.odd, { set = { fade = 0.5, hold = 0.5, level = 100, rounds = 2 } })
judge(play.harbour, { set = { fade = 0.5, hold = 0.5, level = 100 }, rate = 10 })
judge(play.harbour, { set = { fade = 2, hold = 0, level = 1, rounds = 2 }, rate = 1 })
