-- ramp: everything that lights up and down by straight fades, then each other 16-bit parameter, coarse and fine; motion stays.
package.path = SOURCE .. "/tests/sequences/?.lua"
local play = require("play")

-- Sixteen-bit parameters besides the intensity that are ramped, by hand, in the order of patch and slots.
local fine = { courtyard = { "red", "green", "blue" }, odd = { "red", "iris" }, harbour = { "red", "green", "blue" } }

local function judge(name, options)
  local set, path = options.set, play[name]
  local fixtures = play.show(path)
  local rest = play.defaults(fixtures)
  local rounds, turn = set.rounds or 1, 2 * set.time + set.hold
  local passes = { { white = true } }
  for _, param in ipairs(fine[name]) do passes[#passes + 1] = { param = param } end
  for _, pass in ipairs(passes) do
    pass.list = {}
    for _, f in ipairs(fixtures) do
      local has = pass.white and play.white[f.type]
      for _, slot in ipairs(f.list) do has = has or (slot.name == pass.param and slot.sixteen) end
      if has and not f.hazard then pass.list[#pass.list + 1] = f end
    end
  end
  local tops, values = {}, {}
  local _, text, line, last = play.dry(path, "ramp", options, function(time, up)
    local number = math.floor(time / turn + 1e-6)
    local pass = passes[number // rounds + 1]
    if not pass then return end
    local into = time - number * turn
    local part = into < set.time and into / set.time or into <= set.time + set.hold and 1 or (turn - into) / set.time
    part = math.max(0, math.min(1, part))
    if part == 1 then tops[number] = true end
    local wanted = play.copy(rest)
    for _, f in ipairs(pass.list) do
      local look = play.white[f.type] or {}
      if pass.white then
        play.show_look(wanted, f, look, part * set.level)
      else
        local behind = look.intensity and pass.param ~= "iris"            -- a colour behind an intensity goes all the way
        play.put(wanted, f, pass.param, part * (behind and 100 or set.level))
      end
    end
    for _, f in ipairs(pass.list) do
      play.near_among(time, up, wanted, f, pass.white and play.white[f.type] or { [pass.param] = true })
      if f.type == "wash" and pass.param == "red" then
        local coarse, low = up[play.key(f.wire, f.list[3].slot)] or 0, up[play.key(f.wire, f.list[4].slot)] or 0
        values[coarse * 256 + low] = true
      end
      for _, slot in ipairs(f.list) do                            -- what must not move stands at its default throughout
        if slot.kind == "motion" or slot.kind == "strobe" then
          assert((up[play.key(f.wire, slot.slot)] or 0) == play.default(slot), line)
        end
      end
    end
    for _, f in ipairs(fixtures) do
      if f.hazard or f.type == "mover" then
        for _, slot in ipairs(f.list) do
          assert((up[play.key(f.wire, slot.slot)] or 0) == play.default(slot), line)
        end
      end
    end
  end)
  for number = 0, rounds * #passes - 1 do assert(tops[number], ("%s: turn %d never reached its top"):format(line, number)) end
  play.ended(line, last, rounds * #passes * turn, options, text)
  local distinct = 0
  for _ in pairs(values) do distinct = distinct + 1 end
  return distinct
end

-- A fade of 10 s at 40 Hz has 400 steps; 8 bits could show 256 of them.
assert(judge("courtyard", { set = { time = 10, hold = 1, level = 100 } }) >= 400)
judge("courtyard", { set = { time = 0.5, hold = 0, level = 100, rounds = 20 } })
judge("courtyard", { set = { time = 600, hold = 600, level = 1 }, rate = 1 })
judge("odd", { set = { time = 0.5, hold = 0.5, level = 100, rounds = 2 } })
judge("harbour", { set = { time = 1, hold = 0.5, level = 100 } })
