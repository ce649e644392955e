local function with(floor, ...)
  local fixtures = {}
  for i, firmware in ipairs { ... } do
    fixtures[i] = F { id = i, firmware = firmware, address = 4 * i - 3 }
  end
  return show { types = { W { firmware_floor = floor } }, fixtures = fixtures }
end
return {
  { says = "equal and above", show = with({ dual = "3.1" }, "3.1", "3.2", "4", "3.1.1", "10.0"), finds = {} },
  { says = "below",
    show = with({ dual = "3.1" }, "3.0", "2.9", "3", "0"),
    finds = { { "fail", "fixture 1" }, { "fail", "fixture 2",
      text = "firmware 2.9, type wash needs 3.1 for dual: update it" }, { "fail", "fixture 3" },
      { "fail", "fixture 4" } } },
  { says = "number by number, not as decimals", show = with({ dual = "3.9" }, "3.10", "3.9.0", "3.90"), finds = {} },
  { says = "number by number, not as text",
    show = with({ dual = "10.2" }, "9.9", "10.10"),
    finds = { { "fail", "fixture 1" } } },
  { says = "missing parts are 0", show = with({ dual = "3.0.0" }, "3"), finds = {} },
  { says = "a missing part is below a part above 0",
    show = with({ dual = "3.0.1" }, "3", "3.0", "3.0.1"),
    finds = { { "fail", "fixture 1" }, { "fail", "fixture 2" } } },
  { says = "leading zeros mean nothing", show = with({ dual = "3.01" }, "3.1", "03.1"), finds = {} },
  { says = "the floor of another air mode does not matter", show = with({ single = "9" }, "1.0"), finds = {} },
  { says = "the floor of its own air mode does",
    show = show { types = { W { firmware_floor = { single = "9" } } },
      fixtures = { F { air = "single", firmware = "1.0" } } },
    finds = { { "fail", "fixture 1" } } },
  { says = "no floor, no firmware, no air mode: silent",
    show = show { types = { W { firmware_floor = { dual = "3.1" } }, W { id = "spot" } },
      fixtures = { F { id = 1, firmware = none }, F { id = 2, type = "spot", firmware = "0.1" },
      F { id = 3, air = none, firmware = "0.1" } } },
    finds = {} },
  { says = "transmitters are not judged",
    show = show { types = { W { firmware_floor = { dual = "3.1" } } }, transmitters = { T { firmware = "0.1" } } },
    finds = {} },
}
