-- Writes examples/harbour/harbour.show.lua: first a rig without a fault, then the mistakes, each in a few lines of its own
-- (numbered as in examples/README.md). Usage: lua5.4 tests/examples/make-harbour.lua > examples/harbour/harbour.show.lua
-- tests/examples/test_examples.c holds that the committed file is what this writes and that it is in canonical form.

local show = {
  rigcall = 1, name = "Harbour Lanterns", date = "2027-03-06", region = "GB", call = { hours = 8, level = 60 },
  note = "Invented show with planted mistakes: see examples/README.md",
  sites = {
    { id = "quay", name = "North quay" },
    { id = "barge", name = "Concert barge" },
    { id = "mole", name = "Mole and lighthouse" },
  },
  quiet = {
    { from = 2402, to = 2417, who = "Camera links on the barge" },
    { from = 2470, to = 2480, who = "Sound, talkback" },
  },
  types = {}, transmitters = {}, universes = {}, fixtures = {},
}

-- ---- types ----

local function add_type(t) show.types[#show.types + 1] = t end
add_type{ id = "tile32", name = "Pixel tile, 32 cells", airs = { "single", "dual" }, firmware_floor = { dual = "2.4" },
  watts = 48, battery_wh = 520,
  modes = { { id = "cells", head = {}, cells = 32, slots = { "red", "green", "blue", "white" }, tail = {} } } }
add_type{ id = "batten12", name = "Battery batten, 12 cells", airs = { "single", "dual" }, firmware_floor = { dual = "3.1" },
  watts = 40, battery_wh = 320,
  modes = {
    { id = "cells", head = {}, cells = 12, slots = { "intensity", "red", "green", "blue", "white" }, tail = {} },
    { id = "cells-strobe", head = {}, cells = 12, slots = { "intensity", "red", "green", "blue", "white" }, tail = { "strobe" } } } }
add_type{ id = "tube16", name = "Light tube, 16 cells", airs = { "single", "dual" }, firmware_floor = { dual = "2.4" },
  watts = 18, battery_wh = 130,
  modes = { { id = "pixels", head = { "intensity" }, cells = 16, slots = { "red", "green", "blue" }, tail = { "strobe" } } } }
add_type{ id = "wash", name = "Battery wash, 16 bit", airs = { "single", "dual" }, firmware_floor = { dual = "3.1" },
  watts = 60, battery_wh = 450,
  modes = { { id = "fine", head = { "intensity", "intensity+fine", "red", "red+fine", "green", "green+fine", "blue", "blue+fine",
    "amber", "strobe" }, cells = 0, slots = {}, tail = {} } } }
add_type{ id = "lantern", name = "Paper lantern, warm and cool", airs = { "single" }, watts = 5, battery_wh = 45,
  modes = { { id = "tune", head = {}, cells = 1, slots = { "intensity", "warm_white", "cool_white" }, tail = {} } } }
add_type{ id = "mirror", name = "Turning mirror", hazard = "motion", note = "Mains and cable; 14 kg of glass that swings through 0.6 m",
  modes = { { id = "pan-tilt", head = { "pan", "pan+fine", "tilt", "tilt+fine" }, cells = 0, slots = {}, tail = {} } } }

local footprint = { tile32 = 128, batten12 = 60, tube16 = 50, wash = 10, lantern = 3, mirror = 4 }
local mode_of = { tile32 = "cells", batten12 = "cells", tube16 = "pixels", wash = "fine", lantern = "tune", mirror = "pan-tilt" }
local firmware_of = { tile32 = "2.6", batten12 = "3.2", tube16 = "2.4", wash = "3.1", lantern = "1.8" }
local noun = { tile32 = "tile", batten12 = "batten", tube16 = "tube", wash = "wash", lantern = "lantern", mirror = "mirror" }

-- ---- transmitters: six that work, one spare a site ----

local tx = {}
local function add_transmitter(t)
  t.firmware = "4.2"
  t.host = "10.20." .. ({ quay = 1, barge = 2, mole = 3 })[t.site] .. "." .. (10 + tonumber(t.id:sub(2)))
  t.keep_out = { { from = 2402, to = 2417 }, { from = 2470, to = 2480 } }
  t.lanes = {}
  tx[t.id] = t
  show.transmitters[#show.transmitters + 1] = t
end
local both = { "single", "dual" }
add_transmitter{ id = "T1", name = "Quay mast west", site = "quay", pos = { 20, 4, 7 }, reach = 90, eirp_dbm = 20, radios = 4,
  airs = both, air = "dual", code = "40718263" }
add_transmitter{ id = "T2", name = "Quay mast east", site = "quay", pos = { 100, 4, 7 }, reach = 90, eirp_dbm = 20, radios = 4,
  airs = both, air = "dual", code = "51829304" }
add_transmitter{ id = "T3", name = "Barge roof aft", site = "barge", pos = { 405, -80, 9 }, reach = 80, eirp_dbm = 17, radios = 4,
  airs = both, air = "dual", code = "62930415" }
add_transmitter{ id = "T4", name = "Barge bow", site = "barge", pos = { 440, -80, 6 }, reach = 80, eirp_dbm = 17, radios = 4,
  airs = { "single" }, air = "single", code = "73041526", note = "The old rack: single only" }
add_transmitter{ id = "T5", name = "Mole head", site = "mole", pos = { 110, -400, 8 }, reach = 120, eirp_dbm = 20, radios = 4,
  airs = both, air = "dual", code = "84152637" }
add_transmitter{ id = "T6", name = "Lighthouse gallery", site = "mole", pos = { 180, -400, 18 }, reach = 120, eirp_dbm = 20, radios = 4,
  airs = both, air = "dual", code = "95263748" }
add_transmitter{ id = "T7", name = "Quay spare", site = "quay", pos = { 60, 8, 7 }, reach = 150, eirp_dbm = 20, radios = 4,
  airs = both, air = "dual", spare = true }
add_transmitter{ id = "T8", name = "Barge spare", site = "barge", pos = { 422, -80, 9 }, reach = 150, eirp_dbm = 20, radios = 4,
  airs = both, air = "dual", spare = true }
add_transmitter{ id = "T9", name = "Mole spare", site = "mole", pos = { 150, -396, 10 }, reach = 150, eirp_dbm = 20, radios = 4,
  airs = both, air = "dual", spare = true }

-- ---- universes and fixtures ----

local universe = {}
local function add_universe(id, label)
  universe[id] = { id = id, label = label }
  show.universes[#show.universes + 1] = universe[id]
end

local fixture = {}
-- Fills one universe with `count` fixtures of a type, first slot 1, without gaps: fixtures of 128 slots so stand at 1, 129, 257
-- and 385, four to a universe (common practice, no source). place(i) gives the position of the i-th.
local function fill(id, universe_id, site, prefix, type_id, count, tags, place, air)
  for i = 1, count do
    local f = { id = id + i - 1, name = prefix .. " " .. noun[type_id] .. " " .. i,
      type = type_id, mode = mode_of[type_id], site = site, pos = place(i, count), tags = tags,
      universe = universe_id, address = 1 + (i - 1) * footprint[type_id], firmware = firmware_of[type_id] }
    if air then
      f.code, f.air, f.lane = air.code, air.air, air.lane
    end
    fixture[f.id] = f
    show.fixtures[#show.fixtures + 1] = f
  end
  return id + count
end

-- A row of fixtures from x0 to x1 at one y and height.
local function row(x0, x1, y, z)
  return function(i, count)
    local x = count > 1 and x0 + (x1 - x0) * (i - 1) / (count - 1) or x0
    return { math.floor(x * 10 + 0.5) / 10, y, z }
  end
end

-- Eight universes on one transmitter in dual: four of tiles, two of battens, one of tubes, one of washes; or the other way round.
local plan = {
  { "tile32", 4, "tiles" }, { "tile32", 4, "tiles" }, { "tile32", 4, "tiles" }, { "tile32", 4, "tiles" },
  { "batten12", 8, "rail" }, { "batten12", 8, "rail" }, { "tube16", 10, "tubes" }, { "wash", 12, "trees" },
}
local function dual_block(t, first_id, first_universe, place_name, x0, x1, y0, backwards)
  local id, of_type = first_id, {}
  for lane = 1, 8 do
    local type_id, count, tag = table.unpack(plan[backwards and 9 - lane or lane])
    local u, n = first_universe + lane - 1, (of_type[type_id] or 0) + 1
    of_type[type_id] = n
    add_universe(u, place_name .. " " .. tag .. " " .. n)
    t.lanes[lane] = { lane = lane, universe = u }
    id = fill(id, u, t.site, place_name .. " " .. n, type_id, count, { tag }, row(x0, x1, y0 + lane, 2),
      { code = t.code, air = "dual", lane = lane })
  end
end

dual_block(tx.T1, 101, 1, "Quay west", -30, 55, 0)
dual_block(tx.T2, 201, 9, "Quay east", 65, 150, 0)
dual_block(tx.T3, 301, 17, "Barge", 392, 448, -92)
for lane = 1, 4 do                                          -- 64 lanterns in the rigging, on the old rack
  local u = 24 + lane
  add_universe(u, "Barge rigging " .. lane)
  tx.T4.lanes[lane] = { lane = lane, universe = u }
  fill(401 + (lane - 1) * 16, u, "barge", "Rigging " .. lane, "lantern", 16, { "rigging" }, row(395, 450, -90 + lane * 4, 5 + lane),
    { code = tx.T4.code, air = "single", lane = lane })
end
dual_block(tx.T5, 501, 29, "Mole", 60, 135, -404)
dual_block(tx.T6, 601, 37, "Lighthouse", 145, 215, -404, true)

local id = 701                                              -- cabled: no join code, no air mode, no lane
for i = 1, 4 do
  add_universe(44 + i, "Barge cable, wash " .. i)
  id = fill(id, 44 + i, "barge", "Deck " .. i, "wash", 8, { "deck" }, row(395, 445, -96 + i, 1))
end
for i = 1, 4 do
  add_universe(48 + i, "Quay cable, crane " .. i)
  id = fill(id, 48 + i, "quay", "Crane " .. i, "batten12", 8, { "crane" }, row(20, 90, 20 + i, 12))
end
for i = 1, 4 do
  add_universe(52 + i, "Mole cable, mirrors " .. i)
  id = fill(id, 52 + i, "mole", "Mirror row " .. i, "mirror", 4, { "mirrors" }, row(80, 180, -412 + i, 3))
end
for i = 1, 4 do
  add_universe(56 + i, "Quay cable, gate tiles " .. i)
  id = fill(id, 56 + i, "quay", "Gate " .. i, "tile32", 4, { "gate" }, row(30, 60, 26 + i, 3))
end

-- ---- the mistakes ----

-- 1. The hired rack on the barge bow came with the code of the barge roof, and its lanterns were keyed to match.
tx.T4.code = tx.T3.code
for f = 401, 464 do fixture[f].code = tx.T3.code end
-- 2. An address typed 1 too low: 128 for 129.
fixture[106].address = 128
-- 3. Lane 8 of the lighthouse typed as 9: four radios in dual have eight lanes. Universe 44 goes nowhere.
tx.T6.lanes[8].lane = 9
-- 4. A batten keyed to the lane of its neighbours' universe.
fixture[220].lane = 6
-- 5. A wash that came back from repair with its old firmware.
fixture[250].firmware = "2.9"
-- 6. The talkback band on the quay's east mast ends at 2478 where sound asked for 2480.
tx.T2.keep_out[2].to = 2478
-- 7. 23 dBm, from a tour of a country that allows it.
tx.T5.eirp_dbm = 23
-- 8. A universe without a label, and one label on two universes.
universe[14].label = nil
universe[32].label = universe[31].label
-- 9. The tubes were ordered with the small battery: 60 Wh.
show.types[3].battery_wh = 60
-- 10. One tile carried on past the last bollard, for the look of it: 115 m from a mast that reaches 90.
fixture[104].pos = { 135, 1, 2 }
-- 11. A join code with one digit lost.
fixture[322].code = "6293041"
-- 12. The mole's spare has two radios: four lanes, where either of the two it stands by for needs eight.
tx.T9.radios = 2
-- 13. A site misspelt.
fixture[345].site = "barg"
-- 14. A code from the shop test left in: the first one anybody tries.
tx.T1.code = "12345678"
for f = 101, 154 do fixture[f].code = "12345678" end
-- 15. A lantern keyed to dual, which its receiver does not have.
fixture[433].air = "dual"
-- 16. Two digits swapped: kept out up to 2471 for 2417. Nothing is left to hop on.
tx.T4.keep_out[1].to = 2471
-- 17. The lighthouse turned down to 4 dBm for a rehearsal and never up again; two tubes by the harbour light are too far for that.
tx.T6.eirp_dbm = 4
fixture[621].pos = { 272, -398, 2 }
fixture[622].pos = { 275, -398, 2 }

-- ---- in canonical form: one object a line, keys in the order of the format ----

local format                                                -- a value on one line; defined below
local function object(value, keys)
  local parts = {}
  for _, key in ipairs(keys) do
    if value[key] ~= nil then parts[#parts + 1] = key .. " = " .. format(value[key], key) end
  end
  return "{ " .. table.concat(parts, ", ") .. " }"
end

local band = { "from", "to", "who" }
local of = {                                                -- keys of the objects behind a key
  call = { "hours", "level" }, firmware_floor = { "single", "dual" }, quiet = band, keep_out = band, sites = { "id", "name" },
  lanes = { "lane", "universe" }, universes = { "id", "label" }, modes = { "id", "head", "cells", "slots", "tail" },
  types = { "id", "name", "airs", "firmware_floor", "watts", "battery_wh", "hazard", "note", "modes" },
  transmitters = { "id", "name", "site", "pos", "reach", "eirp_dbm", "radios", "airs", "air", "code", "firmware", "host", "spare",
    "lanes", "keep_out", "note" },
  fixtures = { "id", "name", "type", "mode", "site", "pos", "tags", "universe", "address", "code", "air", "lane", "firmware" },
}

function format(value, key)
  if type(value) == "string" then return '"' .. value .. '"' end
  if math.type(value) == "float" then return (("%.1f"):format(value):gsub("%.0$", "")) end
  if type(value) ~= "table" then return tostring(value) end
  if key == "call" or key == "firmware_floor" then return object(value, of[key]) end
  local parts = {}
  for i, item in ipairs(value) do parts[i] = of[key] and object(item, of[key]) or format(item) end
  if #parts == 0 then return "{}" end
  if key == "modes" then return "{\n        " .. table.concat(parts, ",\n        ") .. ",\n      }" end
  return "{ " .. table.concat(parts, ", ") .. " }"
end

local lines = { ("return {\n  rigcall = 1, name = %s, date = %s, region = %s, call = %s, note = %s"):format(format(show.name),
  format(show.date), format(show.region), format(show.call, "call"), format(show.note)) }
for _, key in ipairs{ "sites", "quiet", "types", "transmitters", "universes", "fixtures" } do
  local items = {}
  for i, item in ipairs(show[key]) do
    items[i] = "\n    " .. object(item, of[key]):gsub(", modes = {\n", ",\n      modes = {\n")
  end
  lines[#lines + 1] = "  " .. key .. " = {" .. table.concat(items, ",") .. ",\n  }"
end
local text = table.concat(lines, ",\n") .. ",\n}\n"

if arg then io.write(text) end
return text
