-- Limits: wireless-regdb 2026.05.30 (tests/radio/regdb-2g4.tsv).
local function power(region, eirp_dbm) return show { region = region, transmitters = { T { eirp_dbm = eirp_dbm } } } end
local over = { { "warn", "transmitter T1" } }
return {
  { says = "at the limit", show = power("GB", 20), finds = {} },
  { says = "above it",
    show = power("GB", 27),
    finds = { { "warn", "transmitter T1", text = "EIRP 27 dBm, limit in GB is 20 dBm (wireless-regdb)" } } },
  { says = "a little above it", show = power("GB", 20.01), finds = over },
  { says = "30 dBm in US", show = power("US", 30), finds = {} },
  { says = "30.5 dBm in US", show = power("US", 30.5), finds = over },
  { says = "36.02 dBm in AU", show = power("AU", 36.02), finds = {} },
  { says = "36.03 dBm in AU", show = power("AU", 36.03), finds = over },
  { says = "KR and JP", show = power("KR", 23), finds = {} },
  { says = "JP", show = power("JP", 20.5), finds = over },
  { says = "a region that the table does not have", show = power("QQ", 99), finds = {} },
  { says = "no region", show = power(none, 99), finds = {} },
  { says = "no EIRP", show = power("GB", none), finds = {} },
  { says = "spare transmitters and those without code are judged",
    show = show { region = "GB", transmitters = { T { eirp_dbm = 21, spare = true },
      T { id = "T2", eirp_dbm = 21, code = none } } },
    finds = { { "warn", "transmitter T1" }, { "warn", "transmitter T2" } } },
}
