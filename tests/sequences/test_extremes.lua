-- Every shipped sequence, and those beside the examples, with every parameter at its least and at its most, at several frame
-- rates, on all shows: the guard stops none of them. Parameters and their ranges are taken from the scripts themselves.
package.path = SOURCE .. "/tests/sequences/?.lua"
local play = require("play")

local shipped = { "cell-run", "colour-roll", "each-answers", "level-all", "ramp", "slot-walk" }
local beside = { SOURCE .. "/examples/courtyard/sequences/lantern-tide.lua", SOURCE .. "/examples/harbour/sequences/site-by-site.lua" }

local function params_of(path)
  local script = assert(loadfile(path, "t", { use = function() return {} end }))()
  return script.params
end

-- Every combination of the least and the most of the parameters, but long times only together: those are for the last run.
local function settings(params)
  local names, list = {}, { {} }
  for name in pairs(params) do names[#names + 1] = name end
  table.sort(names)
  for _, name in ipairs(names) do
    local param, values = params[name], nil
    if param[1] == "boolean" then
      values = { false, true }
    elseif param[1] == "choice" then
      values = { param.choices[1], param.choices[#param.choices] }
    elseif param.unit == "s" or param[1] == "integer" then
      values = { param.min }
    else
      values = { param.min, param.max }
    end
    local longer = {}
    for _, set in ipairs(list) do
      for _, value in ipairs(values) do
        local copy = { [name] = value }
        for key, old in pairs(set) do copy[key] = old end
        longer[#longer + 1] = copy
      end
    end
    list = longer
  end
  local most = {}
  for _, name in ipairs(names) do most[name] = params[name].max end
  return list, most
end

local runs = 0
local function must_pass(show, sequence, options)
  local status, text, line = play.dry(show, sequence, options)
  local refused = status == 5 and text:find("a run lasts at most 24 h", 1, true)
  assert(status == 0 or refused, ("%s: exit status %d\n%s"):format(line, status, text))
  runs = runs + 1
end

local function all(sequence, path)
  local list, most = settings(params_of(path))
  for _, set in ipairs(list) do
    must_pass(play.odd, sequence, { set = set })
    must_pass(play.odd, sequence, { set = set, rate = 44 })
    must_pass(play.courtyard, sequence, { set = set })
  end
  must_pass(play.odd, sequence, { set = list[#list], rate = 7 })
  must_pass(play.harbour, sequence, { set = list[#list], where = "site=barge; id=301-464", rate = 20 })
  must_pass(play.harbour, sequence, { set = most, rate = 1 })
  must_pass(play.courtyard, sequence, { set = most, rate = 1 })
end

for _, name in ipairs(shipped) do all(name, SOURCE .. "/scripts/sequences/" .. name .. ".lua") end
for _, path in ipairs(beside) do all(path, path) end
assert(runs > 100)

-- And the guard is on: a copy of cell-run that may step faster flashes its first cells twenty times a second, and is stopped.
local function copy_with(from, to, old, new)
  local file = assert(io.open(from, "rb"))
  local text = file:read("a")
  file:close()
  assert(text:find(old, 1, true))
  file = assert(io.open(to, "wb"))
  file:write((text:gsub(old:gsub("%p", "%%%0"), (new:gsub("%%", "%%%%")))))
  file:close()
end
local faster = play.temporary() .. ".lua"
copy_with(SOURCE .. "/scripts/sequences/cell-run.lua", faster, "min = 0.5", "min = 0.01")
local status, text, line = play.dry(play.courtyard, faster, { set = { step = 0.05, rounds = 20 }, where = "type=lantern; id=301-304" })
assert(status == 0, ("%s: exit status %d\n%s"):format(line, status, text))        -- one cell each: it never goes out
status, text, line = play.dry(play.odd, faster, { set = { step = 0.05, rounds = 20 } })
assert(status == 6, ("%s: exit status %d\n%s"):format(line, status, text))
assert(text:find("flashes", 1, true), text)
os.remove(faster)

-- One step outside a range is refused before anything plays: status 2.
for _, name in ipairs(shipped) do
  for param, range in pairs(params_of(SOURCE .. "/scripts/sequences/" .. name .. ".lua")) do
    if range.min then
      for _, value in ipairs{ range.min - 0.01, range.max + 0.01 } do
        local status, text, line = play.dry(play.courtyard, name, { set = { [param] = value } })
        assert(status == 2, ("%s: exit status %d\n%s"):format(line, status, text))
        assert(text:find(param, 1, true), text)
      end
    end
  end
end
