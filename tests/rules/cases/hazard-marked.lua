return {
  { says = "no hazard", show = show { fixtures = { F {} } }, finds = {} },
  { says = "a hazard in use, once",
    show = show { types = { W { hazard = "motion" } }, fixtures = { F {}, F { id = 2, address = 9 } } },
    finds = { { "note", "type wash", text = "hazard motion: no sequence drives it unless a person arms the fixture" } } },
  { says = "a hazard that no fixture uses", show = show { types = { W { hazard = "flame" } } }, finds = {} },
  { says = "every hazard",
    show = show { types = { W { id = "a", hazard = "motion" }, W { id = "b", hazard = "laser" },
      W { id = "c", hazard = "flame" }, W { id = "d", hazard = "fog" }, W { id = "e", hazard = "other" } },
      fixtures = { F { id = 1, type = "a" }, F { id = 2, type = "b" }, F { id = 3, type = "c" }, F { id = 4, type = "d" },
      F { id = 5, type = "e", universe = none, address = none } } },
    finds = { { "note", "type a" }, { "note", "type b" }, { "note", "type c" }, { "note", "type d" },
      { "note", "type e" } } },
}
