--- What sequences share: which parameters light, which are left alone, which fixtures take part, and how to say so.
-- Roles follow the parameter table of rigcall (E1.20 slot IDs). A name that rigcall does not know counts as "service": nobody
-- can tell what it does, so sequences touch it only when they are asked to.
-- @kind lib
-- @usage local lights = use("lights")

local INTENSITY <const>, COLOUR <const> = "intensity", "colour"

local roles = { intensity = INTENSITY }
-- In the order in which people name them: primaries, whites, then the rest.
local colours = {
  "red", "green", "blue", "white", "warm_white", "cool_white", "amber", "lime", "cyan", "indigo", "ultraviolet",
}
for _, name in ipairs(colours) do roles[name] = COLOUR end
for _, name in ipairs{ "strobe", "shutter" } do roles[name] = "strobe" end
for _, name in ipairs{ "pan", "tilt", "zoom", "barn_door" } do roles[name] = "motion" end
local optics = {
  "colour_temperature", "colour_wheel", "douser", "edge", "frost", "gobo", "hue", "iris", "prism", "saturation",
}
for _, name in ipairs(optics) do roles[name] = "optics" end

local lights = { colours = colours }

--- What a parameter does: "intensity", "colour", "optics", "strobe", "motion", or "service" (lamp, power, macros, fog and
-- everything rigcall has no name for).
function lights.role(name) return roles[name] or "service" end

--- A parameter as people say it: "warm white" for "warm_white".
function lights.spoken(name) return (name:gsub("_", " ")) end

--- True when raising the parameter can make light.
function lights.makes_light(name) return roles[name] == INTENSITY or roles[name] == COLOUR end

--- True when a fixture (or cell) has any parameter that makes light.
function lights.lights(f)
  for _, name in ipairs(f:params()) do
    if lights.makes_light(name) then return true end
  end
  return false
end

--- The colour parameters of a fixture (or cell), in the order of lights.colours.
function lights.colours_of(f)
  local list = {}
  for _, name in ipairs(colours) do
    if f:has(name) then list[#list + 1] = name end
  end
  return list
end

--- The parameters of a fixture that have 16 bits, in slot order, each once.
function lights.fine_of(f)
  local list, seen = {}, {}
  for _, slot in ipairs(f:slots()) do
    local name = slot:match("^(.*)%+fine$")
    if name and not seen[name] then
      seen[name] = true
      list[#list + 1] = name
    end
  end
  return list
end

-- The colour parameters that together look like `colour`, and the word for what people then see.
local function emitters(f, colour)
  local has = lights.colours_of(f)
  if #has == 0 then return {}, "light" end
  if colour ~= "white" and f:has(colour) then return { colour }, colour end
  local lacks = colour == "white" and "" or " (it has no " .. colour .. ")"
  local whites = {}
  for _, name in ipairs{ "white", "warm_white", "cool_white" } do
    if f:has(name) then whites[#whites + 1] = name end
  end
  if #whites > 0 then return whites, "white" .. lacks end
  if f:has("red") and f:has("green") and f:has("blue") then return { "red", "green", "blue" }, "white" .. lacks end
  local words = {}
  for i, name in ipairs(has) do words[i] = lights.spoken(name) end
  return has, table.concat(words, " and ") .. lacks
end

--- Levels that make a fixture (or cell) show a colour at a level: on the intensity if it has one, else on the colours.
-- @param colour "white" or the name of a colour parameter; a fixture without it shows white, or what it has
-- @param level per cent
-- @return a table for out.set() and out.fade(), empty when nothing lights; and the word for what people see
function lights.look(f, colour, level)
  local settings = {}
  local list, word = emitters(f, colour)
  local dimmed = f:has(INTENSITY)
  for _, name in ipairs(lights.colours_of(f)) do settings[name] = 0 end       -- a default need not be 0
  for _, name in ipairs(list) do settings[name] = dimmed and 100 or level end
  if dimmed then settings[INTENSITY] = level end
  return settings, word
end

--- The same names, all at one level.
function lights.all_at(settings, level)
  local copy = {}
  for name in pairs(settings) do copy[name] = level end
  return copy
end

--- "1 fixture", "2 fixtures".
function lights.count(n, word) return ("%d %s%s"):format(n, word, n == 1 and "" or "s") end

--- A length of time as people say it: "48 s", "12 min 30 s", "3 h 5 min".
function lights.time(seconds)
  local s = math.floor(seconds + 0.5)
  if s < 120 then return s .. " s" end
  if s < 7200 then return s % 60 == 0 and s // 60 .. " min" or ("%d min %d s"):format(s // 60, s % 60) end
  return ("%d h %d min"):format(s // 3600, s % 3600 // 60)
end

--- Ids of fixtures as ranges, "101-108, 201", at most `most` of them (default 12), then "and 5 more".
function lights.ids(fixtures, most)
  local numbers, parts, i = {}, {}, 1
  for k, f in ipairs(fixtures) do numbers[k] = f.id end
  table.sort(numbers)
  while i <= #numbers and #parts < (most or 12) do
    local j = i
    while numbers[j + 1] == numbers[j] + 1 do j = j + 1 end
    parts[#parts + 1] = i == j and tostring(numbers[i]) or numbers[i] .. "-" .. numbers[j]
    i = j + 1
  end
  if i <= #numbers then parts[#parts + 1] = ("and %d more"):format(#numbers - i + 1) end
  return table.concat(parts, ", ")
end

--- Tell the crew which fixtures a sequence leaves alone, and why. Says nothing for none.
function lights.say_left_out(fixtures, why)
  if #fixtures > 0 then
    crew.say(("Left alone, %s: %s (%s)."):format(why, lights.count(#fixtures, "fixture"), lights.ids(fixtures)))
  end
end

--- The fixtures of this run that take part, in patch order. Unpatched ones and those with a hazard never do; the crew is told.
-- @param wanted  function(f) that says whether a fixture has what the sequence is about; default: something that lights
-- @param lack    how to say that it has not, "nothing that lights"
function lights.taking_part(wanted, lack)
  local list, unpatched, lacking, hazards = {}, {}, {}, {}
  for f in rig.fixtures{} do
    if not f.universe or not f.address then
      unpatched[#unpatched + 1] = f
    elseif f.hazard then
      hazards[f.hazard] = hazards[f.hazard] or {}
      table.insert(hazards[f.hazard], f)
    elseif not (wanted or lights.lights)(f) then
      lacking[#lacking + 1] = f
    else
      list[#list + 1] = f
    end
  end
  for _, hazard in ipairs{ "motion", "laser", "flame", "fog", "other" } do
    lights.say_left_out(hazards[hazard] or {}, "hazard " .. hazard)
  end
  lights.say_left_out(unpatched, "not patched")
  lights.say_left_out(lacking, lack or "nothing that lights")
  return list
end

--- Say what comes and how long it takes, or stop the script when it is longer than a run may be (24 h).
-- @param what "12 fixtures, one after another"
function lights.announce(what, seconds)
  if seconds > 86400 then
    local advice = "a run lasts at most 24 h: choose fewer with --where, or shorter times"
    error(("%s would take %s; %s"):format(what, lights.time(seconds), advice), 0)
  end
  crew.say(("%s: %s."):format(what, lights.time(seconds)))
end

return {
  kind = "lib", name = "lights",
  about = "which parameters light, which fixtures take part",
  exports = lights,
}
