-- Types that sequences stumble over: without intensity, with motion only, without cells, with 16 bits, with an intensity in
-- front of the cells and strobes inside them, with defaults that are not 0, with names nobody knows. Slots are counted by hand.
return {
  rigcall = 1, name = "Odd types",
  sites = { { id = "a" }, { id = "b" } },
  types = {
    { id = "pixels", modes = { { id = "m", head = {}, cells = 3, slots = { "red", "green", "blue" }, tail = {} } } },
    { id = "mover", modes = { { id = "m", head = { "pan", "pan+fine", "tilt", "tilt+fine" }, cells = 0, slots = {}, tail = {} } } },
    { id = "spot", modes = { { id = "m", cells = 0, slots = {}, tail = {}, head = { { "pan", default = 50 }, "pan+fine", "intensity", "intensity+fine",
      "red", "red+fine", "green", "blue", "iris", "iris+fine", "shutter", "zoom", "control", "sparkle" } } } },
    { id = "bar", modes = { { id = "m", head = { "intensity" }, cells = 2, slots = { "white", "strobe" }, tail = { "macro" } } } },
    { id = "house", modes = { { id = "m", head = {}, cells = 2, tail = {}, slots = { "intensity", { "red", default = 100 },
      { "green", default = 100 }, { "blue", default = 100 } } } } },
    { id = "dimmer", modes = { { id = "m", head = { "intensity" }, cells = 0, slots = {}, tail = {} } } },
    { id = "flame", hazard = "flame", modes = { { id = "m", head = { "intensity", "red" }, cells = 0, slots = {}, tail = {} } } },
    { id = "nothing", modes = { { id = "m", head = {}, cells = 0, slots = {}, tail = {} } } },
  },
  universes = { { id = 7 }, { id = 9, wire = 109 } },
  fixtures = {
    { id = 1, type = "pixels", mode = "m", site = "a", universe = 7, address = 1 },
    { id = 2, type = "mover", mode = "m", site = "a", universe = 7, address = 10 },
    { id = 3, type = "spot", mode = "m", site = "a", universe = 7, address = 14 },
    { id = 4, type = "bar", mode = "m", site = "b", universe = 9, address = 100 },
    { id = 5, type = "house", mode = "m", site = "b", universe = 9, address = 106 },
    { id = 6, type = "dimmer", mode = "m", site = "b", universe = 9, address = 512 },
    { id = 7, type = "flame", mode = "m", site = "b", universe = 9, address = 120 },
    { id = 8, type = "dimmer", mode = "m", site = "a" },
    { id = 9, type = "nothing", mode = "m", site = "b", universe = 9, address = 130 },
  },
}
