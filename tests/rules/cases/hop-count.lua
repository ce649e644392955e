-- The floor of 15 hopping channels: 47 CFR 15.247 (a)(1)(iii). IEEE 802.11 centre frequencies: 2407 + 5 n MHz for n = 1..13.
local function wifi(width)
  local bands = {}
  for i, channel in ipairs { 1, 6, 11 } do
    bands[i] = { 2407 + 5 * channel - width // 2, 2407 + 5 * channel + width // 2 }
  end
  return show { transmitters = { T { keep_out = B(bands) } } }
end
local function left(...) return show { transmitters = { T { keep_out = B { ... } } } } end
return {
  { says = "all 79", show = show { transmitters = { T {} } }, finds = {} },
  -- Out: 2402..2422, 2427..2447, 2452..2472. Left: 2423..2426, 2448..2451, 2473..2480, that is 4 + 4 + 8 = 16.
  { says = "keeping out of Wi-Fi 1, 6 and 11, 20 MHz wide, leaves 16", show = wifi(20), finds = {} },
  -- Out: 2401..2423, 2426..2448, 2451..2473. Left: 2424..2425, 2449..2450, 2474..2480, that is 2 + 2 + 7 = 11.
  { says = "22 MHz wide leaves 11",
    show = wifi(22),
    finds = { { "fail", "transmitter T1",
      text = "11 of 79 hop channels left after keep_out, 15 are needed (47 CFR 15.247)" } } },
  { says = "exactly 15", show = left({ 2402, 2465 }), finds = {} },
  { says = "14", show = left({ 2402, 2466 }), finds = { { "fail", "transmitter T1" } } },
  { says = "14 by bands that overlap",
    show = left({ 2402, 2450 }, { 2440, 2466 }),
    finds = { { "fail", "transmitter T1" } } },
  { says = "none", show = left({ 2400, 2500 }), finds = { { "fail", "transmitter T1" } } },
  { says = "15 in every region",
    show = show { region = "DE", transmitters = { T { keep_out = B { { 2402, 2466 } } } } },
    finds = { { "fail", "transmitter T1" } } },
  { says = "a transmitter without code is off the air, a spare is judged",
    show = show { transmitters = { T { code = none, keep_out = B { { 2402, 2480 } } },
      T { id = "T2", spare = true, keep_out = B { { 2402, 2480 } } } } },
    finds = { { "fail", "transmitter T2" } } },
}
