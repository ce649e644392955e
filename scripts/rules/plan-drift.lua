--- Notes what differs between this show file and the one kept before it (SHOW~), object by object.
-- A command that writes a show keeps the file before: this says what has changed since, to be keyed in or undone. Objects
-- of one kind and id are the same object (where an id is repeated, in the order of the files). An object gets one finding
-- with all that changed in it; what is gone is told of the show. The order of objects, lanes, bands, tags and modes does
-- not count, and neither does a default that is written out. Nothing kept: silent. What is kept cannot be read: one note.
-- @kind rule
-- @reads everything, of both files
-- @usage rigcall check harbour.show.lua --only plan-drift
-- @output note plan-drift fixture 101 Rail 1: universe 3, address 129 -> universe 4, address 1; lane 1 -> 2
-- @output note plan-drift show Harbour Lanterns: fixture 118 Rail 18 is gone; before: universe 2, address 49, site quay
-- @output note plan-drift transmitter T9 Spare: join code none -> 40718263; lane 1: empty -> universe 1; no spare any more
local CHARACTERS = 40 -- of one value
local ENTRIES = 8 -- of one list
local OCTETS = 900 -- of one finding

-- ---- words ----

local function number(value)
  if math.type(value) == "integer" then
    return tostring(value)
  end
  local text = ("%.14g"):format(value)
  return tonumber(text) == value and text or ("%.17g"):format(value)
end

local function short(value)
  local text = math.type(value) and number(value) or value
  local cut = #text > CHARACTERS and utf8.offset(text, CHARACTERS + 1)
  return cut and cut <= #text and text:sub(1, cut - 1) .. "…" or text
end

local function quoted(text)
  return '"' .. short(text) .. '"'
end

local function unit(word)
  return function(value)
    return number(value) .. " " .. word
  end
end

local function place(pos)
  return ("%s %s %s m"):format(number(pos.x), number(pos.y), number(pos.z))
end

-- An array of texts as one, in the order of their octets.
local function listed(texts)
  table.sort(texts)
  local more = #texts - ENTRIES
  local text = table.concat(texts, ", ", 1, math.min(#texts, ENTRIES))
  return more > 0 and ("%s and %d more"):format(text, more) or text
end

local function arrow(noun, was, now)
  if was == now then
    return ("%s %s, changed in what is not shown here"):format(noun, now)
  end
  return ("%s %s -> %s"):format(noun, was, now)
end

-- ---- fields: each is a function(now, was, add) that adds what changed ----

local function field(key, noun, words)
  words = words or short
  return function(now, was, add)
    local a, b = was[key], now[key]
    if a ~= b then
      add(arrow(noun, a ~= nil and words(a) or "none", b ~= nil and words(b) or "none"))
    end
  end
end

local function flag(key, set, cleared)
  return function(now, was, add)
    if now[key] ~= was[key] then
      add(now[key] and set or cleared)
    end
  end
end

local function position(now, was, add)
  local a, b = was.pos, now.pos
  if (a and a.x) ~= (b and b.x) or (a and a.y) ~= (b and b.y) or (a and a.z) ~= (b and b.z) then
    add(arrow("position", a and place(a) or "none", b and place(b) or "none"))
  end
end

-- Arrays of texts whose order says nothing.
local function set(key, noun)
  return function(now, was, add)
    local a, b = was[key], now[key]
    table.sort(a)
    table.sort(b)
    if table.concat(a, "\0") ~= table.concat(b, "\0") then
      add(arrow(noun, #a > 0 and short(listed(a)) or "none", #b > 0 and short(listed(b)) or "none"))
    end
  end
end

-- What one table of texts has and the other has not: names in order.
local function differing(a, b)
  local names = {}
  for name, value in pairs(a) do
    if b[name] ~= value then
      names[#names + 1] = name
    end
  end
  for name in pairs(b) do
    if a[name] == nil then
      names[#names + 1] = name
    end
  end
  table.sort(names)
  return names
end

local function add_differing(a, b, add, noun, none, all)
  local names = differing(a, b)
  for i = 1, math.min(#names, ENTRIES) do
    local name = names[i]
    add(arrow(noun:format(name), a[name] and short(a[name]) or none, b[name] and short(b[name]) or none))
  end
  if #names > ENTRIES then
    add(("%d more %s"):format(#names - ENTRIES, all))
  end
end

local function extras(now, was, add)
  local a, b = was:extras(), now:extras()
  if next(a) or next(b) then
    add_differing(a, b, add, "%s", "none", "x_ keys")
  end
end

local function all_of(extra)
  local parts = {}
  for key, value in pairs(extra) do
    parts[#parts + 1] = key .. "=" .. value
  end
  return table.concat(parts, "\0")
end

-- A band with all that the file says of it, and as people say it.
local function bands(list)
  local exact, said = {}, {}
  for i, band in ipairs(list) do
    local words = ("%s-%s MHz"):format(number(band.from), number(band.to))
    said[i] = band.who and words .. " " .. short(band.who) or words
    exact[i] = table.concat({ words, band.who or "\1", band.note or "\1", all_of(band.extras) }, "\0")
  end
  table.sort(exact)
  return table.concat(exact, "\0\0"), #said > 0 and listed(said) or "nothing"
end

local function band_lists(method, noun)
  return function(now, was, add)
    local a, a_words = bands(was[method](was))
    local b, b_words = bands(now[method](now))
    if a ~= b then
      add(arrow(noun, a_words, b_words))
    end
  end
end

local function patch_words(f)
  if not f.universe then
    return f.address and "not patched, address " .. f.address or "not patched"
  end
  return ("universe %d, %s"):format(f.universe, f.address and "address " .. f.address or "no address")
end

local function patch(now, was, add)
  if now.universe and now.universe == was.universe then
    if now.address ~= was.address then
      add(("%s in universe %d"):format(arrow("address", was.address or "none", now.address or "none"), now.universe))
    end
  elseif now.universe ~= was.universe or now.address ~= was.address then
    add(patch_words(was) .. " -> " .. patch_words(now))
  end
end

-- Lane number -> what it carries.
local function lanes_of(t)
  local carried = {}
  for _, entry in ipairs(t:lanes()) do
    carried[entry.lane] = carried[entry.lane] or {}
    table.insert(carried[entry.lane], entry.universe)
  end
  for lane, universes in pairs(carried) do
    table.sort(universes)
    carried[lane] = (#universes > 1 and "universes " or "universe ") .. table.concat(universes, " and ")
  end
  return carried
end

local function lanes(now, was, add)
  add_differing(lanes_of(was), lanes_of(now), add, "lane %d:", "empty", "lanes")
end

-- ---- types ----

local function slots(list)
  local exact, names = {}, {}
  for i, slot in ipairs(list) do
    names[i] = slot.name
    exact[i] = slot.name .. " " .. (slot.default and number(slot.default) or "")
  end
  return table.concat(exact, "\0"), #names > 0 and short(table.concat(names, " ")) or "none"
end

local function mode(now, was, add)
  local noun = "mode " .. now.id
  for _, key in ipairs { "cells", "footprint" } do
    field(key, noun .. ": " .. key)(now, was, add)
  end
  for _, key in ipairs { "head", "slots", "tail" } do
    local a, a_words = slots(was[key])
    local b, b_words = slots(now[key])
    if a ~= b then
      add(arrow(noun .. ": " .. key, a_words, b_words))
    end
  end
  field("name", noun .. ": name", quoted)(now, was, add)
  field("note", noun .. ": note", quoted)(now, was, add)
  add_differing(was.extras, now.extras, add, noun .. ": %s", "none", "x_ keys")
end

local function modes(now, was, add)
  set("modes", "modes")(now, was, add)
  local judged = {}
  for _, id in ipairs(now.modes) do
    local before = not judged[id] and was:mode(id)
    judged[id] = true
    if before then
      mode(now:mode(id), before, add)
    end
  end
end

local function floor(air)
  return function(now, was, add)
    local a, b = was:firmware_floor(air), now:firmware_floor(air)
    if a ~= b then
      add(arrow(("firmware floor in %s"):format(air), a and short(a) or "none", b and short(b) or "none"))
    end
  end
end

-- ---- kinds ----

local name, note = field("name", "name", quoted), field("note", "note", quoted)
local code, air, site, firmware = field("code", "join code"), field("air", "air mode"), field("site", "site"),
  field("firmware", "firmware")

-- What a text says of an object that is new or gone.
local function sketch_fixture(f)
  local parts = { patch_words(f), ("type %s, mode %s"):format(short(f.type), short(f.mode)) }
  if f.code then
    table.insert(parts, "join code " .. short(f.code))
  end
  if f.air then
    table.insert(parts, "air mode " .. f.air)
  end
  if f.lane then
    table.insert(parts, "lane " .. f.lane)
  end
  table.insert(parts, "site " .. short(f.site))
  return table.concat(parts, ", ")
end

local function sketch_transmitter(t)
  local used, joins = #t:lanes(), t.code and "join code " .. short(t.code) or "no join code"
  return ("%s%s, air mode %s, %s in use, site %s"):format(t.spare and "spare, " or "", joins, t.air,
    used == 1 and "1 lane" or used .. " lanes", short(t.site))
end

local function sketch_type(y)
  return #y.modes > 0 and "modes " .. short(listed(y.modes)) or "no modes"
end

-- Transmitters first and the many last: when there are too many findings, these are the ones that are only counted.
local kinds = {
  { kind = "transmitter", sketch = sketch_transmitter,
    fields = { code, air, lanes, band_lists("keep_out", "keeps out"), flag("spare", "now a spare", "no spare any more"),
      site, position, field("reach", "reach", unit "m"), field("radios", "radios"), set("airs", "air modes"),
      field("eirp_dbm", "EIRP", unit "dBm"), firmware, field("input", "input"), field("host", "host"), name, note,
      extras } },
  { kind = "site", fields = { name, note, extras } },
  { kind = "type", sketch = sketch_type,
    fields = { modes, set("airs", "air modes"), floor "single", floor "dual", field("watts", "power", unit "W"),
      field("battery_wh", "battery", unit "Wh"), field("sensitivity_dbm", "sensitivity", unit "dBm"),
      field("hazard", "hazard"), name, note, extras } },
  { kind = "fixture", sketch = sketch_fixture,
    fields = { patch, field("type", "type"), field("mode", "mode"), code, air, field("lane", "lane"), site, position,
      flag("wired", "now wired", "not wired any more"), field("same_as", "same as fixture"), firmware,
      set("tags", "tags"), name, note, extras } },
  { kind = "universe",
    fields = { field("label", "label", quoted), field("wire", "wire number"), field("priority", "priority"), note,
      extras } },
}

local show_fields = { name, field("date", "date"), field("region", "region"), field("call_hours", "call", unit "h"),
  field("call_level", "call level", unit "%"), band_lists("quiet", "quiet"), note, extras }

-- ---- findings ----

local function join(parts)
  local length, shown = 0, 0
  for i, part in ipairs(parts) do
    length = length + #part + 2
    if length > OCTETS then
      break
    end
    shown = i
  end
  local text = table.concat(parts, "; ", 1, shown)
  return shown < #parts and ("%s; and %d more"):format(text, #parts - shown) or text
end

local function compare(now, was, fields)
  local parts = {}
  local function add(text)
    parts[#parts + 1] = text
  end
  for _, judge in ipairs(fields) do
    judge(now, was, add)
  end
  if #parts > 0 then
    finding(now, join(parts))
  end
end

-- Id -> the object before, or the array of those that share the id, `at` being the next.
local function all_before(kind)
  local by_id = {}
  for was in rig.each_before(kind) do
    local id = was.id
    local have = by_id[id]
    if not have then
      by_id[id] = was
    elseif type(have) == "table" then
      have[#have + 1] = was
    else
      by_id[id] = { have, was, at = 1 }
    end
  end
  return by_id
end

local function take(by_id, id)
  local was = by_id[id]
  if type(was) ~= "table" then
    by_id[id] = nil
    return was
  end
  was.at = was.at + 1
  return was[was.at - 1]
end

local function say_gone(was, sketch)
  finding(rig.show(), tostring(was) .. " is gone" .. (sketch and "; before: " .. sketch(was) or ""))
end

local function judge_kind(kind)
  local by_id = all_before(kind.kind)
  for now in rig.each(kind.kind) do
    local was = take(by_id, now.id)
    if was then
      compare(now, was, kind.fields)
    else
      finding(now, kind.sketch and "is new: " .. kind.sketch(now) or "is new")
    end
  end
  for _, left in pairs(by_id) do
    for i = type(left) == "table" and left.at or 1, type(left) == "table" and #left or 1 do
      say_gone(type(left) == "table" and left[i] or left, kind.sketch)
    end
  end
end

return {
  kind = "rule",
  name = "plan-drift",
  about = "what differs between this show file and the one kept before it",
  severity = "note",
  run = function()
    local kept, trouble = rig.has_before()
    if trouble then
      finding(rig.show(), "cannot say what has changed: " .. trouble)
    elseif kept then
      compare(rig.show(), rig.before("show"), show_fields)
      for _, kind in ipairs(kinds) do
        judge_kind(kind)
      end
    end
  end,
}
