return {
  rigcall = 1, name = "Courtyard Nocturne", date = "2027-06-12", region = "NL", call = { hours = 6, level = 50 },
  sites = {
    { id = "court", name = "Courtyard" },
    { id = "gallery", name = "Upper gallery" },
  },
  quiet = {
    { from = 2402, to = 2412, who = "Sound, wireless intercom" },
  },
  types = {
    { id = "batten12", name = "Battery batten, 12 cells", airs = { "single", "dual" }, firmware_floor = { dual = "3.1" }, watts = 40, battery_wh = 320,
      modes = {
        { id = "cells", head = {}, cells = 12, slots = { "intensity", "red", "green", "blue", "white" }, tail = {} },
      } },
    { id = "wash", name = "Battery wash, 16 bit", airs = { "single", "dual" }, firmware_floor = { dual = "3.1" }, watts = 60, battery_wh = 450,
      modes = {
        { id = "fine", head = { "intensity", "intensity+fine", "red", "red+fine", "green", "green+fine", "blue", "blue+fine", "amber", "strobe" }, cells = 0, slots = {}, tail = {} },
      } },
    { id = "lantern", name = "Paper lantern, warm and cool", airs = { "single" }, watts = 5, battery_wh = 45,
      modes = {
        { id = "tune", head = {}, cells = 1, slots = { "intensity", "warm_white", "cool_white" }, tail = {} },
      } },
    { id = "festoon", name = "Festoon, one dimmer",
      modes = {
        { id = "dim", head = { "intensity" }, cells = 0, slots = {}, tail = {} },
      } },
    { id = "fogger", name = "Low fog machine", hazard = "fog",
      modes = {
        { id = "one", head = { "fog" }, cells = 0, slots = {}, tail = {} },
      } },
  },
  transmitters = {
    { id = "T1", name = "Well house", site = "court", pos = { 0, 0, 4 }, reach = 80, eirp_dbm = 17, radios = 2, airs = { "single", "dual" }, air = "dual", code = "27150934", firmware = "4.2", host = "10.30.0.11", lanes = { { lane = 1, universe = 1 }, { lane = 2, universe = 2 } }, keep_out = { { from = 2402, to = 2412 } } },
    { id = "T2", name = "Gallery stair", site = "gallery", pos = { 30, 12, 6 }, reach = 80, eirp_dbm = 17, radios = 2, airs = { "single", "dual" }, air = "single", code = "60482715", firmware = "4.2", host = "10.30.0.12", lanes = { { lane = 1, universe = 3 } }, keep_out = { { from = 2402, to = 2412 } } },
    { id = "T9", name = "Spare on the stage cart", site = "court", pos = { 15, 5, 2 }, reach = 120, eirp_dbm = 17, radios = 4, airs = { "single", "dual" }, air = "dual", firmware = "4.2", host = "10.30.0.19", spare = true, lanes = {}, keep_out = { { from = 2402, to = 2412 } }, note = "Off until a swap: it then gets the code, air mode and lanes of the one that died" },
  },
  universes = {
    { id = 1, label = "Court, batten rail" },
    { id = 2, label = "Court, washes in the trees" },
    { id = 3, label = "Gallery, lanterns" },
    { id = 4, label = "Cabled: festoon and fog" },
  },
  fixtures = {
    { id = 101, name = "Rail 1", type = "batten12", mode = "cells", site = "court", pos = { -6, -6, 3 }, tags = { "rail" }, universe = 1, address = 1, code = "27150934", air = "dual", lane = 1, firmware = "3.2" },
    { id = 102, name = "Rail 2", type = "batten12", mode = "cells", site = "court", pos = { -4, -6, 3 }, tags = { "rail" }, universe = 1, address = 61, code = "27150934", air = "dual", lane = 1, firmware = "3.2" },
    { id = 103, name = "Rail 3", type = "batten12", mode = "cells", site = "court", pos = { -2, -6, 3 }, tags = { "rail" }, universe = 1, address = 121, code = "27150934", air = "dual", lane = 1, firmware = "3.2" },
    { id = 104, name = "Rail 4", type = "batten12", mode = "cells", site = "court", pos = { 0, -6, 3 }, tags = { "rail" }, universe = 1, address = 181, code = "27150934", air = "dual", lane = 1, firmware = "3.2" },
    { id = 105, name = "Rail 5", type = "batten12", mode = "cells", site = "court", pos = { 2, -6, 3 }, tags = { "rail" }, universe = 1, address = 241, code = "27150934", air = "dual", lane = 1, firmware = "3.2" },
    { id = 106, name = "Rail 6", type = "batten12", mode = "cells", site = "court", pos = { 4, -6, 3 }, tags = { "rail" }, universe = 1, address = 301, code = "27150934", air = "dual", lane = 1, firmware = "3.2" },
    { id = 107, name = "Rail 7", type = "batten12", mode = "cells", site = "court", pos = { 6, -6, 3 }, tags = { "rail" }, universe = 1, address = 361, code = "27150934", air = "dual", lane = 1, firmware = "3.2" },
    { id = 108, name = "Rail 8", type = "batten12", mode = "cells", site = "court", pos = { 8, -6, 3 }, tags = { "rail" }, universe = 1, address = 421, code = "27150934", air = "dual", lane = 1, firmware = "3.2" },
    { id = 201, name = "Tree 1", type = "wash", mode = "fine", site = "court", pos = { -8, 8, 1 }, tags = { "trees" }, universe = 2, address = 1, code = "27150934", air = "dual", lane = 2, firmware = "3.1" },
    { id = 202, name = "Tree 2", type = "wash", mode = "fine", site = "court", pos = { -4, 8, 1 }, tags = { "trees" }, universe = 2, address = 11, code = "27150934", air = "dual", lane = 2, firmware = "3.1" },
    { id = 203, name = "Tree 3", type = "wash", mode = "fine", site = "court", pos = { 0, 8, 1 }, tags = { "trees" }, universe = 2, address = 21, code = "27150934", air = "dual", lane = 2, firmware = "3.1" },
    { id = 204, name = "Tree 4", type = "wash", mode = "fine", site = "court", pos = { 4, 8, 1 }, tags = { "trees" }, universe = 2, address = 31, code = "27150934", air = "dual", lane = 2, firmware = "3.1" },
    { id = 205, name = "Tree 5", type = "wash", mode = "fine", site = "court", pos = { 8, 8, 1 }, tags = { "trees" }, universe = 2, address = 41, code = "27150934", air = "dual", lane = 2, firmware = "3.1" },
    { id = 206, name = "Tree 6", type = "wash", mode = "fine", site = "court", pos = { 12, 8, 1 }, tags = { "trees" }, universe = 2, address = 51, code = "27150934", air = "dual", lane = 2, firmware = "3.1" },
    { id = 301, name = "Lantern 1", type = "lantern", mode = "tune", site = "gallery", pos = { 21, 12, 5 }, tags = { "lanterns" }, universe = 3, address = 1, code = "60482715", air = "single", lane = 1, firmware = "1.8" },
    { id = 302, name = "Lantern 2", type = "lantern", mode = "tune", site = "gallery", pos = { 24, 12, 5 }, tags = { "lanterns" }, universe = 3, address = 4, code = "60482715", air = "single", lane = 1, firmware = "1.8" },
    { id = 303, name = "Lantern 3", type = "lantern", mode = "tune", site = "gallery", pos = { 27, 12, 5 }, tags = { "lanterns" }, universe = 3, address = 7, code = "60482715", air = "single", lane = 1, firmware = "1.8" },
    { id = 304, name = "Lantern 4", type = "lantern", mode = "tune", site = "gallery", pos = { 30, 12, 5 }, tags = { "lanterns" }, universe = 3, address = 10, code = "60482715", air = "single", lane = 1, firmware = "1.8" },
    { id = 305, name = "Lantern 5", type = "lantern", mode = "tune", site = "gallery", pos = { 33, 12, 5 }, tags = { "lanterns" }, universe = 3, address = 13, code = "60482715", air = "single", lane = 1, firmware = "1.8" },
    { id = 306, name = "Lantern 6", type = "lantern", mode = "tune", site = "gallery", pos = { 36, 12, 5 }, tags = { "lanterns" }, universe = 3, address = 16, code = "60482715", air = "single", lane = 1, firmware = "1.8" },
    { id = 307, name = "Lantern 7", type = "lantern", mode = "tune", site = "gallery", pos = { 39, 12, 5 }, tags = { "lanterns" }, universe = 3, address = 19, code = "60482715", air = "single", lane = 1, firmware = "1.8" },
    { id = 308, name = "Lantern 8", type = "lantern", mode = "tune", site = "gallery", pos = { 42, 12, 5 }, tags = { "lanterns" }, universe = 3, address = 19, code = "60482715", air = "single", lane = 1, firmware = "1.8", same_as = 307, note = "Hangs behind a pillar with 307 and does what 307 does" },
    { id = 401, name = "Festoon over the well", type = "festoon", mode = "dim", site = "court", pos = { 0, 0, 5 }, tags = { "house" }, universe = 4, address = 1 },
    { id = 402, name = "Fog at the well", type = "fogger", mode = "one", site = "court", pos = { 1, 1, 0 }, universe = 4, address = 2, note = "Hazard: no sequence drives it unless a person arms it" },
  },
}
