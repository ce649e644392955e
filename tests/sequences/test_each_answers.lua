-- each-answers: at every moment exactly one fixture is lit, all of it, in patch order; nothing else is up.
package.path = SOURCE .. "/tests/sequences/?.lua"
local play = require("play")

local function judge(path, options, looks)
  local fixtures = play.show(path)
  local turns = {}
  for _, f in ipairs(play.that_light(fixtures)) do
    if not options.among or options.among(f) then turns[#turns + 1] = f end
  end
  local hold, level = options.set.hold or 2, options.set.level or 50
  local granted = {}
  for _, f in ipairs(fixtures) do
    if not options.among or options.among(f) then granted[#granted + 1] = f end
  end
  local rest, seen, wanted, turn_of = play.defaults(granted), {}, nil, nil
  local _, text, line, last = play.dry(path, "each-answers", options, function(time, up)
    local turn = math.floor(time / hold + 1e-6) + 1
    if turn ~= turn_of then
      turn_of, wanted = turn, play.copy(rest)
      if turns[turn] then play.show_look(wanted, turns[turn], (looks or play.white)[turns[turn].type], level) end
    end
    if turns[turn] then seen[turn] = true end
    play.same(time, up, wanted)
  end)
  for turn, f in ipairs(turns) do assert(seen[turn], ("%s: fixture %d was never lit"):format(line, f.id)) end
  play.ended(line, last, #turns * hold, options, text)
  return text
end

local text = judge(play.courtyard, { set = {} })
assert(text:find("Left alone, hazard fog: 1 fixture (402).", 1, true), text)
assert(not text:find("strobe", 1, true), text)          -- what a sequence never drives need not be spoken of
judge(play.courtyard, { set = { hold = 0.5, level = 100 } })
judge(play.courtyard, { set = { hold = 60, level = 1 } })
judge(play.courtyard, { set = { hold = 0.5 }, rate = 44 })
judge(play.courtyard, { set = {}, where = "tag=trees", among = function(f) return f.tags and f.tags[1] == "trees" end })
text = judge(play.odd, { set = { hold = 0.5, level = 100 } })
assert(text:find("Left alone, hazard flame: 1 fixture (7).", 1, true), text)
assert(text:find("Left alone, not patched: 1 fixture (8).", 1, true), text)
assert(text:find("Left alone, nothing that lights: 2 fixtures (2, 9).", 1, true), text)
judge(play.harbour, { set = { hold = 0.5, level = 100 }, rate = 10 })
judge(play.harbour, { set = { hold = 60, level = 1 }, rate = 1, where = "site=mole; universe=29-31",
  among = function(f) return f.universe >= 29 and f.universe <= 31 end })

-- In red, by hand: fixtures that have no red show what they have.
local red = {
  pixels = { red = "level" }, spot = { intensity = "level", red = 100 }, bar = { intensity = "level", white = 100 },
  house = { intensity = "level", red = 100 }, dimmer = { intensity = "level" },
}
judge(play.odd, { set = { colour = "red", hold = 1 } }, red)
