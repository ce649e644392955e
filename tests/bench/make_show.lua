-- Writes a believable show of N fixtures, the same one every time:  lua5.4 make_show.lua 10000 [clean] > big.show.lua
-- With clean it has no mistakes, and no hazard or strobe either, so that a sequence drives every slot.
-- Four fixtures of 128 slots a universe, eight universes a transmitter of four radios in dual (common practice, no source),
-- one spare a site. Clean but for the dozen mistakes listed below as `broken`, `wrong_tx` and `wrong_label`.
local N = math.tointeger(tonumber(arg[1])) or 10000
local clean = arg[2] == "clean"
local PER_UNIVERSE, UNIVERSES_PER_TX = 4, 8
local PER_TX = PER_UNIVERSE * UNIVERSES_PER_TX
assert(N >= 100 and N <= 63999 * PER_UNIVERSE, "N must be 100 to 255996: sACN has 63999 universes")

local transmitters = (N + PER_TX - 1) // PER_TX
local sites = math.max(3, N // 5000)
local per_site = (transmitters + sites - 1) // sites
local wide = math.ceil(math.sqrt(per_site))          -- transmitters stand in a square, 10 m apart

local places = { "Quay", "Barge", "Mill", "Tower", "Garden", "Arcade", "Bridge", "Court", "Depot", "Ferry" }
local types = {
  { id = "batten21", name = "Battery batten, 21 cells", watts = 45, wh = 360, tag = "rail",
    mode = [[{ id = "cells", head = { "intensity" }, cells = 21, slots = { "red", "green", "blue", "white", "amber", "lime" }, tail = { "strobe" } }]] },
  { id = "tube32", name = "Tube, 32 cells", watts = 24, wh = 180, tag = "floor",
    mode = [[{ id = "cells", head = {}, cells = 32, slots = { "red", "green", "blue", "white" }, tail = {} }]] },
  { id = "panel16", name = "Panel, 16 cells", watts = 60, wh = 480, tag = "truss",
    mode = [[{ id = "cells", head = {}, cells = 16, slots = { "intensity", "red", "green", "blue", "white", "amber", "lime", "frost" }, tail = {} }]] },
  { id = "arm40", name = "Moving bar, 40 cells", watts = 80, wh = 600, tag = "truss", hazard = "motion",
    mode = [[{ id = "cells", head = { "pan", "pan+fine", "tilt", "tilt+fine", "intensity", "intensity+fine", "zoom", { "strobe", default = 0 } }, cells = 40, slots = { "red", "green", "blue" }, tail = {} }]] },
}

-- Codes: a step that has no factor with 10^8 gives each number once before it repeats.
local code_at, codes = 40718263, {}
local function guessable(code)
  return code:match("^(%d)%1+$") or ("0123456789"):find(code, 1, true) or ("9876543210"):find(code, 1, true)
end
for t = 1, transmitters + sites do
  repeat
    code_at = (code_at + 61803399) % 100000000
    codes[t] = ("%08d"):format(code_at)
  until not guessable(codes[t])
end

local function site_of(t) return (t - 1) // per_site + 1 end
local function tx_position(t)
  local at = (t - 1) % per_site
  return (site_of(t) - 1) * 3000 + at % wide * 10, at // wide * 10
end
local function spare_position(s)
  return (s - 1) * 3000 + wide * 5, wide * 5
end

-- What is wrong on purpose, by number of fixture or transmitter. Far enough apart that no two meet in one universe.
local function fixture_at(part) return math.max(1, math.floor(N * part)) end
local broken = {
  [fixture_at(0.11)] = function(f) f.lane = f.lane % 8 + 1 end,              -- landing: in another universe
  [fixture_at(0.21)] = function(f) f.code = "4071826" end,                   -- code-form
  [fixture_at(0.31)] = function(f) f.firmware = "2.9.4" end,                 -- firmware-floor
  [fixture_at(0.41)] = function(f) f.address = f.address + 128 * 3 end,      -- address-fits, or address-overlap
  [fixture_at(0.51)] = function(f) f.address = (f.address + 127) % 384 + 1 end,   -- address-overlap
  [fixture_at(0.61)] = function(f) f.x = f.x + 1500 end,                     -- in-reach, link-margin
  [fixture_at(0.71)] = function(f) f.mode = "cellz" end,                     -- type-known
}
local wrong_tx = {
  [math.max(1, transmitters // 3)] = { eirp = 23 },                          -- region-power
  [math.max(2, transmitters // 2)] = { keep_out = "{ from = 2402, to = 2418 }, { from = 2470, to = 2475 }" },      -- quiet-kept
}
local wrong_label = math.max(2, transmitters * UNIVERSES_PER_TX // 4)        -- label-form: as the universe before
if clean then
  broken, wrong_tx, wrong_label = {}, {}, nil
  for _, t in ipairs(types) do
    t.hazard = nil
    t.mode = t.mode:gsub('{ "strobe", default = 0 }', '"frost"'):gsub('"strobe"', '"frost"')
  end
end

local out = {}
local function line(...)
  out[#out + 1] = string.format(...)
  if #out == 1000 then
    io.write(table.concat(out, "\n"), "\n")
    out = {}
  end
end

line('return {')
line('  rigcall = 1, name = "%d fixtures", date = "2027-03-06", region = "GB", call = { hours = 10, level = 60 },', N)
line('  sites = {')
for s = 1, sites do
  line('    { id = "site%d", name = "%s %d" },', s, places[(s - 1) % #places + 1], s)
end
line('  },\n  quiet = {\n    { from = 2402, to = 2423, who = "camera link" },\n    { from = 2470, to = 2475, who = "talkback" },\n  },')
line('  types = {')
for _, t in ipairs(types) do
  line('    { id = "%s", name = "%s", airs = { "single", "dual" }, firmware_floor = { dual = "3.1" }, watts = %d, battery_wh = %d, sensitivity_dbm = -85,%s',
       t.id, t.name, t.watts, t.wh, t.hazard and (' hazard = "%s",'):format(t.hazard) or "")
  line('      modes = {\n        %s,\n      } },', t.mode)
end
line('  },\n  transmitters = {')
local QUIET = "{ from = 2402, to = 2423 }, { from = 2470, to = 2475 }"
for t = 1, transmitters do
  local x, y = tx_position(t)
  local wrong, lanes = wrong_tx[t] or {}, {}
  for lane = 1, UNIVERSES_PER_TX do
    local universe = (t - 1) * UNIVERSES_PER_TX + lane
    if (universe - 1) * PER_UNIVERSE < N then
      lanes[#lanes + 1] = ("{ lane = %d, universe = %d }"):format(lane, universe)
    end
  end
  line('    { id = "T%d", name = "%s mast %d", site = "site%d", pos = { %d, %d, 6 }, reach = 120, eirp_dbm = %d, radios = 4, airs = { "single", "dual" }, air = "dual", code = "%s", firmware = "3.1", host = "10.%d.%d.%d", lanes = { %s }, keep_out = { %s } },',
       t, places[(site_of(t) - 1) % #places + 1], t, site_of(t), x, y, wrong.eirp or 18, codes[t], 20 + (t >> 16), t >> 8 & 255, t & 255,
       table.concat(lanes, ", "), wrong.keep_out or QUIET)
end
for s = 1, sites do
  local x, y = spare_position(s)
  line('    { id = "S%d", name = "Spare %d", site = "site%d", pos = { %d, %d, 6 }, reach = 400, eirp_dbm = 18, radios = 4, airs = { "single", "dual" }, air = "dual", code = "%s", firmware = "3.1", spare = true, lanes = {}, keep_out = { %s } },',
       s, s, s, x, y, codes[transmitters + s], QUIET)
end
line('  },\n  universes = {')
for u = 1, (N + PER_UNIVERSE - 1) // PER_UNIVERSE do
  line('    { id = %d, label = "%s run %d", priority = 100 },', u, places[(site_of((u - 1) // UNIVERSES_PER_TX + 1) - 1) % #places + 1],
       u == wrong_label and u - 1 or u)
end
line('  },\n  fixtures = {')
for i = 1, N do
  local t = (i - 1) // PER_TX + 1
  local universe = (i - 1) // PER_UNIVERSE + 1
  local x, y = tx_position(t)
  local kind = types[i // 16 % #types + 1]
  local f = { x = x + i % 13 * 1.5 - 9, y = y + i % 7 * 2.25 - 6.75, address = (i - 1) % PER_UNIVERSE * 128 + 1, code = codes[t],
              lane = (universe - 1) % UNIVERSES_PER_TX + 1, firmware = i % 3 == 0 and "3.2.1" or "3.2", mode = "cells" }
  if broken[i] then
    broken[i](f)
  end
  line('    { id = %d, name = "%s %d", type = "%s", mode = "%s", site = "site%d", pos = { %g, %g, %g }, tags = { "%s" }, universe = %d, address = %d, code = "%s", air = "dual", lane = %d, firmware = "%s" },',
       100 + i, kind.tag, i, kind.id, f.mode, site_of(t), f.x, f.y, i % 4 * 0.5 + 2, kind.tag, universe, f.address, f.code, f.lane, f.firmware)
end
line('  },\n}')
io.write(table.concat(out, "\n"), "\n")
