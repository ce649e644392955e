local function lasts(type, call, fixtures) return show { call = call, types = { W(type) },
  fixtures = fixtures or { F {} } } end
local ten = { hours = 10, level = 100 }
return {
  { says = "longer than the call", show = lasts({ watts = 40, battery_wh = 500 }, ten), finds = {} },
  -- 400 Wh / 40 W = 10 h
  { says = "exactly enough", show = lasts({ watts = 40, battery_wh = 400 }, ten), finds = {} },
  -- 396 Wh / 40 W = 9.9 h
  { says = "not enough",
    show = lasts({ watts = 40, battery_wh = 396 }, ten),
    finds = { { "warn", "type wash", text = "lasts 9.9 h at 100 %, the call is 10 h" } } },
  -- 240 Wh / (40 W x 0.6) = 10 h; 236 Wh: 9.83 h
  { says = "the level counts", show = lasts({ watts = 40, battery_wh = 240 }, { hours = 10, level = 60 }), finds = {} },
  { says = "the level counts, short",
    show = lasts({ watts = 40, battery_wh = 236 }, { hours = 10, level = 60 }),
    finds = { { "warn", "type wash", text = "lasts 9.8 h at 60 %, the call is 10 h" } } },
  -- 0.7 x 0.1 x 3 = 0.21, none of which has an exact double
  { says = "exactly enough in decimals",
    show = lasts({ watts = 0.7, battery_wh = 0.21 }, { hours = 3, level = 10 }),
    finds = {} },
  { says = "the type is the subject, once",
    show = lasts({ watts = 40, battery_wh = 10 }, ten,
      { F {}, F { id = 2, address = 9 }, F { id = 3, universe = none, address = none } }),
    finds = { { "warn", "type wash" } } },
  { says = "a type that no fixture uses", show = lasts({ watts = 40, battery_wh = 10 }, ten, {}), finds = {} },
  { says = "a fixture with an unknown mode uses its type",
    show = lasts({ watts = 40, battery_wh = 10 }, ten, { F { mode = "plane" } }),
    finds = { { "warn", "type wash" } } },
  { says = "no watts", show = lasts({ battery_wh = 10 }, ten), finds = {} },
  { says = "no battery", show = lasts({ watts = 40 }, ten), finds = {} },
  { says = "no call", show = lasts({ watts = 40, battery_wh = 10 }, none), finds = {} },
  -- 396 Wh / 40 W = 9.9 h
  { says = "hours without a level are judged at 100 %",
    show = lasts({ watts = 40, battery_wh = 396 }, { hours = 10 }),
    finds = { { "warn", "type wash", text = "lasts 9.9 h at 100 %, the call is 10 h" } } },
  { says = "exactly enough without a level", show = lasts({ watts = 40, battery_wh = 400 }, { hours = 10 }), finds = {} },
  { says = "a level without hours", show = lasts({ watts = 40, battery_wh = 10 }, { level = 60 }), finds = {} },
  { says = "level 0 lasts for ever",
    show = lasts({ watts = 40, battery_wh = 10 }, { hours = 10, level = 0 }),
    finds = {} },
}
