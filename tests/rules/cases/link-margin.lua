-- Free-space loss at 2442 MHz over d m: 20 log10(4 pi d 2442e6 / 299792458) = 40.203 + 20 log10 d dB (ITU-R P.525).
-- EIRP 10 dBm against -85 dBm leaves 95 - 40.203 - 20 log10 d: 10 dB at d = 10 ^ (44.797 / 20) = 173.7 m.
local function one(fixture, transmitter, types)
  local t = T(transmitter or {})
  t.eirp_dbm, t.reach = t.eirp_dbm or 10, 1000
  return show { types = types, transmitters = { t }, fixtures = { F(fixture) } }
end
local function warns(text) return { { "warn", "fixture 1", text = text } } end
return {
  { says = "near", show = one {}, finds = {} },
  { says = "173 m leaves 10.04 dB", show = one { pos = { 173, 0, 0 } }, finds = {} },
  { says = "174.5 m leaves 9.96 dB",
    show = one { pos = { 174.5, 0, 0 } },
    finds = warns "margin 10.0 dB to transmitter T1 Mast at 174.5 m, 10 dB are wanted" },
  { says = "500 m leaves 0.8 dB",
    show = one { pos = { 0, 500, 0 } },
    finds = warns "margin 0.8 dB to transmitter T1 Mast at 500.0 m, 10 dB are wanted" },
  { says = "a more sensitive receiver gets farther",
    show = one({ pos = { 500, 0, 0 } }, {}, { W { sensitivity_dbm = -95 } }),
    finds = {} },
  { says = "a deaf one does not get 100 m",
    show = one({ pos = { 100, 0, 0 } }, {}, { W { sensitivity_dbm = -78 } }),
    finds = warns() },
  { says = "beyond its reach it still has a margin",
    show = show { transmitters = { T { eirp_dbm = 10 } }, fixtures = { F { pos = { 500, 0, 0 } } } },
    finds = warns() },
  { says = "no EIRP",
    show = show { transmitters = { T { reach = 1000 } }, fixtures = { F { pos = { 900, 0, 0 } } } },
    finds = {} },
  { says = "no position", show = one({ pos = none }, { eirp_dbm = -60 }), finds = {} },
  { says = "on top of the transmitter", show = one { pos = { 0, 0, 0 } }, finds = {} },
  { says = "no transmitter of its own", show = one { pos = { 500, 0, 0 }, code = "51820394" }, finds = {} },
}
