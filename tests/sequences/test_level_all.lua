-- level-all: everything that lights goes to one level and back, by straight fades; nothing else is up.
package.path = SOURCE .. "/tests/sequences/?.lua"
local play = require("play")

local function judge(path, options)
  local set = options.set
  local fixtures = play.show(path)
  local rest = play.defaults(fixtures)
  local wanted = play.copy(rest)
  for _, f in ipairs(play.that_light(fixtures)) do play.show_look(wanted, f, play.white[f.type], set.level) end
  local held = 0
  local _, text, line, last = play.dry(path, "level-all", options, function(time, up)
    if time >= set.fade and time <= set.fade + set.hold - 1e-6 then
      play.same(time, up, wanted)
      held = held + 1
    end
  end)
  assert(held > 0, line .. ": never saw the level held")
  play.ended(line, last, 2 * set.fade + set.hold, options, text)
  return text
end

judge(play.courtyard, { set = { level = 50, hold = 10, fade = 2 } })
judge(play.courtyard, { set = { level = 100, hold = 0.5, fade = 0 } })
judge(play.courtyard, { set = { level = 1, hold = 80000, fade = 60 }, rate = 1, where = nil })
judge(play.odd, { set = { level = 0, hold = 1, fade = 0 } })
judge(play.odd, { set = { level = 100, hold = 3, fade = 1 } })
judge(play.harbour, { set = { level = 60, hold = 2, fade = 1 } })
