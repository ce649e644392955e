return {
  rigcall = 1, name = "Harbour Lanterns", date = "2027-03-06", region = "GB", call = { hours = 10, level = 60 },
  sites = { { id = "quay", name = "North quay" }, { id = "barge", name = "Barge" } },
  quiet = { { from = 2402, to = 2423, who = "camera link" } },                        -- MHz
  types = {
    { id = "batten12", name = "Battery batten, 12 cells", airs = { "single", "dual" }, firmware_floor = { dual = "3.1" },
      watts = 40, battery_wh = 320, sensitivity_dbm = -85,   -- hazard = "motion", "laser", "flame", "fog" or "other"
      modes = { { id = "cells", head = {}, cells = 12, slots = { "intensity", "red", "green", "blue", "white" }, tail = {} },
                { id = "cells-strobe", head = {}, cells = 12, slots = { "intensity", "red", "green", "blue", "white" }, tail = { "strobe" } } } } },
  transmitters = {
    { id = "T1", name = "Quay mast", site = "quay", pos = { 12, 0, 6 }, reach = 120, eirp_dbm = 20, radios = 4,
      airs = { "single", "dual" }, air = "dual", code = "40718263", firmware = "3.1", host = "10.20.0.11", spare = false,
      lanes = { { lane = 1, universe = 1 }, { lane = 2, universe = 2 } }, keep_out = { { from = 2402, to = 2423 } } } },
  universes = { { id = 1, label = "Quay rail A", priority = 100, wire = 1 },            -- wire: sACN universe, default id
                { id = 2, label = "Quay rail B" } },
  fixtures = {
    { id = 101, name = "Rail 1", type = "batten12", mode = "cells", site = "quay", pos = { 3, 0, 2 }, tags = { "rail" },
      universe = 1, address = 1, code = "40718263", air = "dual", lane = 1, firmware = "3.1" } },
}
