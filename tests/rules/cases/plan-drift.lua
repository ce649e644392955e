-- Texts are worked out by hand from the words of the rule.
local function note(subject, text) return { { "note", subject, text = text } } end
-- A show of one fixture and its transmitter; `fields` change the fixture.
local function rig(fields) return show { transmitters = { T {} }, fixtures = { F(fields or {}) } } end
local function mast(fields) return show { transmitters = { T(fields or {}) } } end
local function fixture(says, before, now, text)
  return { says = says, before = rig(before), show = rig(now), finds = note("fixture 1", text) }
end
local function transmitter(says, before, now, text)
  return { says = says, before = mast(before), show = mast(now), finds = note("transmitter T1", text) }
end
local function universe(fields)
  local u = { id = 1, label = "One" }
  for key, value in pairs(fields) do
    u[key] = value
  end
  return show { universes = { u } }
end
local function wash(fields) return show { types = { W(fields) } } end
local function one_mode(fields)
  local m = { id = "m", head = {}, cells = 1, slots = { "red" }, tail = {} }
  for key, value in pairs(fields) do
    m[key] = value
  end
  return wash { modes = { m } }
end
local function many(count, make)
  local list = {}
  for i = 1, count do
    list[i] = make(i)
  end
  return list
end
local forty = ("1234567890"):rep(4)
return {
  -- nothing to compare, nothing that differs
  { says = "nothing is kept", show = rig(), finds = {} },
  { says = "the same show", before = rig(), show = rig(), finds = {} },
  { says = "the order of objects, lanes, tags and bands says nothing",
    before = show { transmitters = { T { keep_out = B { { 2402, 2412 }, { 2470, 2480 } } }, T { id = "T2" } },
      universes = { { id = 1, label = "One" }, { id = 2, label = "Two" } },
      fixtures = { F { tags = { "rail", "front" } }, F { id = 2 } } },
    show = show { transmitters = { T { id = "T2" }, T { lanes = L { { 2, 2 }, { 1, 1 } }, keep_out = B { { 2470, 2480 }, { 2402, 2412 } } } },
      universes = { { id = 2, label = "Two" }, { id = 1, label = "One" } },
      fixtures = { F { id = 2 }, F { tags = { "front", "rail" } } } },
    finds = {} },
  { says = "a default that is written out is no change",
    before = show { transmitters = { T {} }, universes = { { id = 1, label = "One" } }, fixtures = { F {} } },
    show = show { transmitters = { T { input = "multicast", spare = false, keep_out = {} } },
      universes = { { id = 1, label = "One", wire = 1, priority = 100 } }, fixtures = { F { wired = false, tags = {} } } },
    finds = {} },
  { says = "a show of another name is compared", before = show { name = "Matinee" }, show = show {},
    finds = note("show", 'name "Matinee" -> "Cases"') },
  -- what is kept cannot be read
  { says = "a kept file that is no show", before = "return {\n  rigcall = 1, name = 5 }", show = rig(), finds = { { "note", "show" } } },
  { says = "the note says where and what", before = "nonsense", show = rig(),
    finds = note("show", 'cannot say what has changed: case~:1:1: found the name nonsense, expected "return" and a table') },
  -- fixtures
  fixture("universe and address", { universe = 3, address = 129 }, { universe = 4, address = 1 },
    "universe 3, address 129 -> universe 4, address 1"),
  fixture("the universe alone", { universe = 3, address = 129 }, { universe = 4, address = 129 },
    "universe 3, address 129 -> universe 4, address 129"),
  fixture("the address alone", { address = 129 }, { address = 145 }, "address 129 -> 145 in universe 1"),
  fixture("an address taken away", { address = 129 }, { address = none }, "address 129 -> none in universe 1"),
  fixture("patched now", { universe = none, address = none }, {}, "not patched -> universe 1, address 1"),
  fixture("not patched any more", {}, { universe = none }, "universe 1, address 1 -> not patched, address 1"),
  fixture("a universe without an address", { universe = none, address = none }, { address = none },
    "not patched -> universe 1, no address"),
  fixture("the address of one that is not patched", { universe = none }, { universe = none, address = 5 },
    "not patched, address 1 -> not patched, address 5"),
  fixture("the mode", {}, { mode = "wide" }, "mode plain -> wide"),
  fixture("the type", {}, { type = "batten" }, "type wash -> batten"),
  fixture("the join code", {}, { code = "51820394" }, "join code 40718263 -> 51820394"),
  fixture("a join code of zeros is its text", { code = "00000000" }, { code = "00000001" }, "join code 00000000 -> 00000001"),
  fixture("a join code taken away", {}, { code = none }, "join code 40718263 -> none"),
  fixture("the air mode", {}, { air = "single" }, "air mode dual -> single"),
  fixture("the lane", {}, { lane = 2 }, "lane 1 -> 2"),
  fixture("the site", {}, { site = "barge" }, "site quay -> barge"),
  fixture("the position", {}, { pos = { 10, 0.5, -1 } }, "position 10 0 0 m -> 10 0.5 -1 m"),
  fixture("no position any more", {}, { pos = none }, "position 10 0 0 m -> none"),
  fixture("a position of less than a printed digit", { pos = { 0.1, 0, 0 } }, { pos = { 0.1 + 2 ^ -54, 0, 0 } },
    "position 0.1 0 0 m -> 0.10000000000000006 0 0 m"),
  fixture("wired", {}, { wired = true }, "now wired"),
  fixture("wireless again", { wired = true }, {}, "not wired any more"),
  fixture("an address shared on purpose", {}, { same_as = 7 }, "same as fixture none -> 7"),
  fixture("firmware is a text", { firmware = "3.1" }, { firmware = "3.10" }, "firmware 3.1 -> 3.10"),
  fixture("tags", { tags = { "rail", "front" } }, { tags = { "rail" } }, "tags front, rail -> rail"),
  fixture("a tag of two words is not two tags", { tags = { "a, b" } }, { tags = { "a", "b" } },
    "tags a, b, changed in what is not shown here"),
  fixture("the name", {}, { name = "Lantern" }, 'name "Lamp" -> "Lantern"'),
  fixture("a note", {}, { note = "dented" }, 'note none -> "dented"'),
  fixture("a key of the owner's", { x_case = 7, x_out = true }, { x_case = "A 7", x_in = true },
    'x_case 7 -> "A 7"; x_in none -> true; x_out true -> none'),
  fixture("all that changed stands in one finding", {}, { universe = 2, address = 5, code = "51820394", lane = 2, name = "L" },
    'universe 1, address 1 -> universe 2, address 5; join code 40718263 -> 51820394; lane 1 -> 2; name "Lamp" -> "L"'),
  { says = "a new fixture", before = rig(), show = show { transmitters = { T {} }, fixtures = { F {}, F { id = 2, address = 5 } } },
    finds = note("fixture 2",
      "is new: universe 1, address 5, type wash, mode plain, join code 40718263, air mode dual, lane 1, site quay") },
  { says = "a new fixture that has nothing yet", before = rig(),
    show = show { transmitters = { T {} }, fixtures = { F {}, F { id = 2, universe = none, address = none, code = none, air = none,
      lane = none } } },
    finds = note("fixture 2", "is new: not patched, type wash, mode plain, site quay") },
  { says = "a fixture that is gone", before = rig(), show = show { transmitters = { T {} } },
    finds = note("show", "fixture 1 Lamp is gone; before: universe 1, address 1, type wash, mode plain, join code 40718263, " ..
      "air mode dual, lane 1, site quay") },
  { says = "another id is one that is gone and one that is new", before = rig(), show = rig { id = 2 },
    finds = { { "note", "show" }, { "note", "fixture 2" } } },
  -- long values
  fixture("forty characters are shown", { name = forty }, { name = forty:gsub("1", "é") .. "" },
    ('name "%s" -> "%s"'):format(forty, (forty:gsub("1", "é")))),
  fixture("the forty-first is not", { name = "short" }, { name = forty .. "x" }, ('name "short" -> "%s…"'):format(forty)),
  fixture("what differs behind them is said to", { name = forty .. "x" }, { name = forty .. "y" },
    ('name "%s…", changed in what is not shown here'):format(forty)),
  { says = "a text of many parts is cut and says so",
    before = rig(), show = rig { note = ("é"):rep(50), name = ("é"):rep(50), firmware = ("é"):rep(50), site = ("é"):rep(50),
      type = ("é"):rep(50), mode = ("é"):rep(50), code = ("é"):rep(50), tags = { ("é"):rep(50) }, lane = 2, x_a = ("é"):rep(50),
      x_b = ("é"):rep(50), x_c = ("é"):rep(50) },
    -- A value of 40 two-octet characters and the dots has 83 octets. Up to the note there are 817 with the marks between;
    -- x_a would make it 913.
    finds = note("fixture 1", (('type wash -> V; mode plain -> V; join code 40718263 -> V; lane 1 -> 2; site quay -> V; ' ..
      'firmware none -> V; tags none -> V; name "Lamp" -> "V"; note none -> "V"; and 3 more'):gsub("V", ("é"):rep(40) .. "…"))) },
  -- transmitters
  transmitter("off the air", {}, { code = none, lanes = {} }, "join code 40718263 -> none; lane 1: universe 1 -> empty; lane 2: universe 2 -> empty"),
  transmitter("a lane moved, one gone, one new", { lanes = L { { 1, 1 }, { 2, 2 } } }, { lanes = L { { 1, 2 }, { 10, 1 } } },
    "lane 1: universe 1 -> universe 2; lane 2: universe 2 -> empty; lane 10: empty -> universe 1"),
  transmitter("a lane that is given two universes", {}, { lanes = L { { 1, 7 }, { 1, 1 }, { 2, 2 } } },
    "lane 1: universe 1 -> universes 1 and 7"),
  transmitter("eight lanes are told, more are counted", { lanes = {} }, { lanes = many(10, function(i) return { lane = i, universe = i } end) },
    "lane 1: empty -> universe 1; lane 2: empty -> universe 2; lane 3: empty -> universe 3; lane 4: empty -> universe 4; " ..
    "lane 5: empty -> universe 5; lane 6: empty -> universe 6; lane 7: empty -> universe 7; lane 8: empty -> universe 8; 2 more lanes"),
  transmitter("keep_out", {}, { keep_out = B { { 2470, 2480 }, { 2402, 2423.5, "camera" } } },
    "keeps out nothing -> 2402-2423.5 MHz camera, 2470-2480 MHz"),
  transmitter("a note on a band", { keep_out = { { from = 2402, to = 2412 } } }, { keep_out = { { from = 2402, to = 2412, note = "till ten" } } },
    "keeps out 2402-2412 MHz, changed in what is not shown here"),
  transmitter("a spare goes on the air", { spare = true, code = none }, {}, "join code none -> 40718263; no spare any more"),
  transmitter("now a spare", {}, { spare = true }, "now a spare"),
  transmitter("air mode and air modes", { airs = { "single" }, air = "single" }, {}, "air mode single -> dual; air modes single -> dual, single"),
  transmitter("site and position", {}, { site = "barge", pos = { 0, 0, 6.25 } }, "site quay -> barge; position 0 0 0 m -> 0 0 6.25 m"),
  transmitter("reach, radios and power", { eirp_dbm = 20 }, { reach = 80.5, radios = 2, eirp_dbm = none },
    "reach 100 m -> 80.5 m; radios 4 -> 2; EIRP 20 dBm -> none"),
  transmitter("firmware, input and host", {}, { firmware = "3.1", input = "unicast", host = "10.20.0.11" },
    "firmware none -> 3.1; input multicast -> unicast; host none -> 10.20.0.11"),
  transmitter("name, note and keys of the owner's", { x_mast = { 1, 2 } }, { name = "Pole", note = "wet", x_mast = { 1, 3 } },
    'name "Mast" -> "Pole"; note none -> "wet"; x_mast { 1, 2 } -> { 1, 3 }'),
  { says = "a new transmitter", before = mast(), show = show { transmitters = { T {}, T { id = "T9", spare = true, code = none, lanes = L { { 1, 1 } } } } },
    finds = note("transmitter T9", "is new: spare, no join code, air mode dual, 1 lane in use, site quay") },
  { says = "a transmitter that is gone", before = mast(), show = show {},
    finds = note("show", "transmitter T1 Mast is gone; before: join code 40718263, air mode dual, 2 lanes in use, site quay") },
  -- universes, sites, types, the show
  { says = "a universe", before = universe { priority = 120 }, show = universe { label = "Uno", wire = 7, note = "n", x_a = 1 },
    finds = note("universe 1", 'label "One" -> "Uno"; wire number 1 -> 7; priority 120 -> 100; note none -> "n"; x_a none -> 1') },
  { says = "a new universe", before = universe {}, show = show {}, finds = note("universe 2", "is new") },
  { says = "a universe that is gone", before = show {}, show = universe {}, finds = note("show", "universe 2 Two is gone") },
  { says = "sites", before = show { sites = { { id = "quay", name = "Quay" }, { id = "hall" } } },
    show = show { sites = { { id = "quay", name = "Kai", note = "wet" }, { id = "barge" } } },
    finds = { { "note", "site quay", text = 'name "Quay" -> "Kai"; note none -> "wet"' }, { "note", "site barge", text = "is new" },
      { "note", "show", text = "site hall is gone" } } },
  { says = "what a type says of itself", before = wash { firmware_floor = { dual = "3.1" }, watts = 40, hazard = "fog" },
    show = wash { airs = { "dual" }, firmware_floor = { single = "2" }, battery_wh = 320, sensitivity_dbm = -85.5, name = "W" },
    finds = note("type wash", "air modes dual, single -> dual; firmware floor in single none -> 2; firmware floor in dual 3.1 -> none; " ..
      'power 40 W -> none; battery none -> 320 Wh; sensitivity none -> -85.5 dBm; hazard fog -> none; name "Wash" -> "W"') },
  { says = "the cells of a mode", before = one_mode { cells = 12 }, show = one_mode { cells = 10 },
    finds = note("type wash", "mode m: cells 12 -> 10; mode m: footprint 12 -> 10") },
  { says = "the slots of a mode", before = one_mode { head = { "pan", "pan+fine" }, slots = { "red", "blue" } },
    show = one_mode { slots = { "blue", "red" }, tail = { "strobe" } },
    finds = note("type wash", "mode m: footprint 4 -> 3; mode m: head pan pan+fine -> none; mode m: slots red blue -> blue red; " ..
      "mode m: tail none -> strobe") },
  { says = "a default of a slot", before = one_mode { tail = { "strobe" } }, show = one_mode { tail = { { "strobe", default = 10 } } },
    finds = note("type wash", "mode m: tail strobe, changed in what is not shown here") },
  { says = "name, note and keys of a mode", before = one_mode {}, show = one_mode { name = "M", note = "old", x_page = 3 },
    finds = note("type wash", 'mode m: name none -> "M"; mode m: note none -> "old"; mode m: x_page none -> 3') },
  { says = "modes that are new and gone", before = wash { modes = { mode("a", 1), mode("b", 1) } }, show = wash { modes = { mode("c", 1), mode("b", 1) } },
    finds = note("type wash", "modes a, b -> b, c") },
  { says = "a new type and one that is gone", before = wash { id = "tube", modes = { mode("a", 1) } }, show = wash { modes = {} },
    finds = { { "note", "type wash", text = "is new: no modes" }, { "note", "show", text = "type tube Wash is gone; before: modes a" } } },
  { says = "the show itself", before = show { date = "2027-03-06", call = { hours = 10 }, quiet = B { { 2402, 2412, "sound" } } },
    show = show { region = "GB", call = { hours = 10, level = 62.5 }, quiet = {}, note = "rain", x_crew = 4 },
    finds = note("show", 'date 2027-03-06 -> none; region none -> GB; call level none -> 62.5 %; quiet 2402-2412 MHz sound -> nothing; ' ..
      'note none -> "rain"; x_crew none -> 4') },
  -- repeated ids
  { says = "repeated ids in both: in the order of the files",
    before = show { fixtures = { F {}, F { address = 5 } } }, show = show { fixtures = { F {}, F { address = 9 } } },
    finds = note("fixture 1", "address 5 -> 9 in universe 1") },
  { says = "of the files, not of the patch", before = show { fixtures = { F { address = 9 }, F { address = 5 } } },
    show = show { fixtures = { F { address = 1 }, F { address = 5 } } }, finds = note("fixture 1", "address 9 -> 1 in universe 1") },
  { says = "an id that repeats now is one more object", before = show { fixtures = { F {} } }, show = show { fixtures = { F {}, F { address = 9 } } },
    finds = { { "note", "fixture 1" } } },
  { says = "ids that repeated before are one less", before = show { universes = { { id = 1, label = "One" }, { id = 1, label = "Eins" }, { id = 1, label = "Un" } } },
    show = universe {}, finds = { { "note", "show", text = "universe 1 Eins is gone" }, { "note", "show", text = "universe 1 Un is gone" } } },
  { says = "repeated modes", before = wash { modes = { mode("a", 1), mode("a", 2) } }, show = wash { modes = { mode("a", 1), mode("a", 3), mode("a", 4) } },
    finds = note("type wash", "modes a, a -> a, a, a") },
}
