-- Plays a sequence dry through the program and gives its capture as frames. The capture is read here by its published layouts:
-- pcap with nanoseconds (magic a1b23c4d) and raw IP, IPv4 and UDP headers without options, E1.31 data packets (ANSI E1.31-2018
-- Table 4-1: root vector at octet 18, universe at 113, options at 112, slots from 126).

local play = {}

local function quoted(text) return "'" .. text:gsub("'", "'\\''") .. "'" end

--- A name for a file of this test alone; nothing is there.
function play.temporary()
  local name = os.tmpname()
  os.remove(name)
  return name
end

local scratch, errors = play.temporary(), play.temporary()

--- Run the program. @return exit status, what it wrote to stdout, the command line, what it wrote to stderr
function play.command(...)
  local words = { quoted(PROGRAM) }
  for _, word in ipairs{ ... } do words[#words + 1] = quoted(tostring(word)) end
  local line = table.concat(words, " ")
  local pipe = assert(io.popen(line .. " 2>" .. errors .. " </dev/null", "r"))
  local text = pipe:read("a")
  local _, how, status = pipe:close()
  local file = assert(io.open(errors, "rb"))
  local complaints = file:read("a")
  file:close()
  os.remove(errors)
  assert(how == "exit", ("%s: ended by signal %s\n%s%s"):format(line, status, text, complaints))
  return status, text, line, complaints
end

-- Iterator over the data packets of a capture: time in ns, universe, 512 octets of levels, terminated.
local function packets(path)
  local file = assert(io.open(path, "rb"))
  local magic, _, _, _, _, _, link = string.unpack("<I4I2I2I4I4I4I4", file:read(24))
  assert(magic == 0xa1b23c4d and link == 101, "not the capture that was expected")
  return function()
    local s, ns, length, bytes
    repeat                             -- data packets only: 8 is the root vector of universe discovery
      local head = file:read(16)
      if not head then file:close() return nil end
      s, ns, length = string.unpack("<I4I4I4", head)
      bytes = file:read(length)
    until string.unpack(">I4", bytes, 28 + 18 + 1) ~= 8
    assert(length == 20 + 8 + 638 and #bytes == length, "a packet of another size")
    local universe = string.unpack(">I2", bytes, 28 + 113 + 1)
    return s * 1000000000 + ns, universe, bytes:sub(28 + 126 + 1), bytes:byte(28 + 112 + 1) & 0x40 ~= 0
  end
end

-- Slots of a show file by universe: what each is. Read with plain Lua, independent of the program.
local colours = { red = 1, green = 1, blue = 1, white = 1, warm_white = 1, cool_white = 1, amber = 1 }
local function kind_of(name)
  if name == "intensity" then return "intensity" end
  if colours[name] then return "colour" end
  if name == "strobe" or name == "shutter" then return "strobe" end
  if name == "pan" or name == "tilt" or name == "zoom" then return "motion" end
  return "other"
end

--- Read a show file. @return fixtures in patch order (universe, address, id), each with `wire` and `list`: its slots in order,
-- { slot = 1..512, name = "red", fine = bool, kind =, cell = 0 or n, default = per cent }; hazard =; unpatched ones left out
function play.show(path)
  local show = dofile(path)
  local modes, hazards, wires = {}, {}, {}
  for _, t in ipairs(show.types) do
    hazards[t.id] = t.hazard
    for _, m in ipairs(t.modes) do modes[t.id .. "/" .. m.id] = m end
  end
  for _, u in ipairs(show.universes) do wires[u.id] = u.wire or u.id end
  local list = {}
  for _, f in ipairs(show.fixtures) do
    if f.universe and f.address then
      f.wire, f.list, f.hazard = wires[f.universe], {}, hazards[f.type]
      local mode = modes[f.type .. "/" .. f.mode]
      f.cells = mode.cells
      local function add(slots, cell)
        for _, s in ipairs(slots) do
          local name = type(s) == "table" and s[1] or s
          local base = name:gsub("%+fine$", "")
          f.list[#f.list + 1] = { slot = f.address + #f.list, name = base, fine = base ~= name, kind = kind_of(base), cell = cell,
            default = type(s) == "table" and s.default or 0 }
        end
      end
      add(mode.head, 0)
      for cell = 1, mode.cells do add(mode.slots, cell) end
      add(mode.tail, 0)
      local has_fine = {}
      for _, s in ipairs(f.list) do
        if s.fine then has_fine[s.name] = true end
      end
      for _, s in ipairs(f.list) do s.sixteen = has_fine[s.name] end
      list[#list + 1] = f
    end
  end
  table.sort(list, function(a, b)
    if a.universe ~= b.universe then return a.universe < b.universe end
    if a.address ~= b.address then return a.address < b.address end
    return a.id < b.id
  end)
  return list
end

--- 8-bit level of a percentage, and coarse and fine of the 16-bit one: floor(p x 255 / 100 + 0.5), likewise with 65535.
function play.level8(percent) return math.floor(percent * 255 / 100 + 0.5) end
function play.level16(percent)
  local value = math.floor(percent * 65535 / 100 + 0.5)
  return value >> 8, value & 255
end

--- What a slot holds at its default: the octet that goes out.
function play.default(slot)
  if slot.sixteen then
    local coarse, fine = play.level16(slot.default)
    return slot.fine and fine or coarse
  end
  return play.level8(slot.default)
end

--- A key for a slot of a wire universe, for tables of what is up.
function play.key(wire, slot) return wire * 1000 + slot end

--- Put a parameter of a fixture (of one cell, if cell is given) at a percentage, in a table of what is up.
function play.put(up, fixture, name, percent, cell)
  for _, slot in ipairs(fixture.list) do
    if slot.name == name and (not cell or slot.cell == cell) then
      local octet = play.level8(percent)
      if slot.sixteen then
        local coarse, fine = play.level16(percent)
        octet = slot.fine and fine or coarse
      end
      up[play.key(fixture.wire, slot.slot)] = octet ~= 0 and octet or nil
    end
  end
end

--- What is up when every fixture is at its defaults.
function play.defaults(fixtures)
  local up = {}
  for _, f in ipairs(fixtures) do
    for _, slot in ipairs(f.list) do
      local octet = play.default(slot)
      up[play.key(f.wire, slot.slot)] = octet ~= 0 and octet or nil
    end
  end
  return up
end

--- A copy of a table of what is up.
function play.copy(up)
  local copy = {}
  for key, octet in pairs(up) do copy[key] = octet end
  return copy
end

--- Fail unless what is up is what is wanted.
function play.same(time, up, wanted)
  for key, octet in pairs(wanted) do
    if up[key] ~= octet then
      error(("at %.3f s universe %d slot %d is at %s, wanted %d"):format(time, key // 1000, key % 1000, up[key] or 0, octet), 2)
    end
  end
  for key, octet in pairs(up) do
    if not wanted[key] then error(("at %.3f s universe %d slot %d is at %d, wanted 0"):format(time, key // 1000, key % 1000, octet), 2) end
  end
end

-- Within a fade the capture's time (whole nanoseconds) and the engine's may differ by a rounding: one step of the octet, and with
-- 16 bits one step of the pair, which the fine octet shows and the coarse one may carry.
local function is_near(f, slots, up, wanted)
  for i, slot in ipairs(slots) do
    local key = play.key(f.wire, slot.slot)
    local got, want = up[key] or 0, wanted[key] or 0
    if slot.sixteen and not slot.fine then
      local low = play.key(f.wire, slots[i + 1].slot)
      got, want = got * 256 + (up[low] or 0), want * 256 + (wanted[low] or 0)
    end
    if not (slot.sixteen and slot.fine) and math.abs(got - want) > 1 then return slot, got, want end
  end
end

--- As play.same, for one fixture and the parameters that are keys of `names`, with one step of play for roundings.
function play.near_among(time, up, wanted, f, names)
  local slots = {}
  for _, slot in ipairs(f.list) do
    if names[slot.name] then slots[#slots + 1] = slot end
  end
  local slot, got, want = is_near(f, slots, up, wanted)
  if slot then
    error(("at %.3f s fixture %d, %s in slot %d is at %d, wanted %d"):format(time, f.id, slot.name, slot.slot, got, want), 2)
  end
end

--- Play dry with the guard on. options: where, rate, set = { name = value }.
-- Calls frame(time_s, up) after every time at which packets went out; up[play.key(wire, slot)] is the octet that receivers then
-- hold, nothing for 0. The closing packets of defaults are left out. Without frame nothing is judged.
-- @return exit status, stdout and stderr, the command line, time of the last packet before the terminated ones
function play.dry(show_path, sequence, options, frame)
  local words = { "run", show_path, sequence, "--dry" }
  local function add(...) for _, w in ipairs{ ... } do words[#words + 1] = w end end
  if frame then add("--pcap", scratch) end
  if options.where then add("--where", options.where) end
  if options.rate then add("--rate", options.rate) end
  local names = {}
  for name in pairs(options.set or {}) do names[#names + 1] = name end
  table.sort(names)
  for _, name in ipairs(names) do add("--set", name .. "=" .. tostring(options.set[name])) end
  local status, text, line, complaints = play.command(table.unpack(words))
  text = text .. complaints
  if not frame then return status, text, line end
  assert(status == 0, line .. "\n" .. text)

  local up, raw, last = {}, {}, nil
  for time, universe, bytes, terminated in packets(scratch) do
    if terminated then break end
    if last and time ~= last then frame(last / 1e9, up) end
    last = time
    local before = raw[universe] or ("\0"):rep(512)
    if before ~= bytes then
      raw[universe] = bytes
      for slot = 1, 512 do
        local octet = bytes:byte(slot)
        if octet ~= before:byte(slot) then up[play.key(universe, slot)] = octet ~= 0 and octet or nil end
      end
    end
  end
  os.remove(scratch)
  return status, text, line, last / 1e9
end

--- Fail unless a run ended when it should, at a time or at the next frame, and the crew was told how long it takes.
function play.ended(line, last, wanted, options, text)
  local late = last - wanted
  assert(late > -1e-6 and late < 1 / (options.rate or 40) + 1e-6, ("%s: ended at %g s, wanted %g"):format(line, last, wanted))
  local told = assert(text:match("%d fixtures?[^\n]*: ([%d hmins]+)%.\n"), text)
  local seconds, unit = 0, { h = 3600, min = 60, s = 1 }
  for number, name in told:gmatch("(%d+) (%a+)") do seconds = seconds + number * unit[name] end
  local step = told:find("h", 1, true) and 60 or 1
  assert(math.abs(seconds - wanted) <= step, ("%s: told %s, took %g s"):format(line, told, wanted))
end

-- Which parameters of each type show white, by hand: L is the level asked for, a number a percentage of its own. Types that are
-- not here have nothing that lights, or a hazard.
local L <const> = "level"
play.white = {
  tile32 = { white = L },
  batten12 = { intensity = L, white = 100 },
  tube16 = { intensity = L, red = 100, green = 100, blue = 100 },
  wash = { intensity = L, red = 100, green = 100, blue = 100 },
  lantern = { intensity = L, warm_white = 100, cool_white = 100 },
  festoon = { intensity = L },
  pixels = { red = L, green = L, blue = L },
  spot = { intensity = L, red = 100, green = 100, blue = 100 },
  bar = { intensity = L, white = 100 },
  house = { intensity = L, red = 100, green = 100, blue = 100 },
  dimmer = { intensity = L },
}

--- Put a fixture at a look of such a table; its other colours go out.
function play.show_look(up, fixture, look, level)
  for _, slot in ipairs(fixture.list) do
    if slot.kind == "colour" then up[play.key(fixture.wire, slot.slot)] = nil end
  end
  for name, value in pairs(look) do play.put(up, fixture, name, value == L and level or value) end
end

--- The fixtures that make white, in the order of turns.
function play.that_light(fixtures)
  local list = {}
  for _, f in ipairs(fixtures) do
    if play.white[f.type] then list[#list + 1] = f end
  end
  return list
end

--- The shows that tests play.
play.courtyard = SOURCE .. "/examples/courtyard/courtyard.show.lua"
play.harbour = SOURCE .. "/examples/harbour/harbour.show.lua"
play.odd = SOURCE .. "/tests/sequences/odd.show.lua"

return play
