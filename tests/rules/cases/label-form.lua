local function labels(...)
  local universes = {}
  for i, label in ipairs { ... } do
    universes[i] = { id = i, label = label ~= none and label or nil }
  end
  return show { universes = universes }
end
return {
  { says = "short, different labels", show = labels("Rail A", "Rail B", "rail a"), finds = {} },
  { says = "missing or empty",
    show = labels(none, "", "Rail"),
    finds = { { "warn", "universe 1", text = "has no label" }, { "warn", "universe 2", text = "has no label" } } },
  { says = "32 characters fit", show = labels(("x"):rep(32)), finds = {} },
  { says = "33 do not",
    show = labels(("x"):rep(33)),
    finds = { { "warn", "universe 1", text = "the label has 33 characters, at most 32 fit on paper" } } },
  { says = "characters are code points: 32 of two and four octets fit",
    show = labels(("é"):rep(32), ("𝄞"):rep(32)),
    finds = {} },
  { says = "33 of them do not",
    show = labels(("é"):rep(33), ("𝄞"):rep(33)),
    finds = { { "warn", "universe 1" }, { "warn", "universe 2" } } },
  { says = "repeated: the lower id is the subject",
    show = show { universes = { { id = 9, label = "Barge" }, { id = 5, label = "Barge" } } },
    finds = { { "warn", "universe 5", others = { "universe 9" },
      text = "the label is also that of universe 9 Barge" } } },
  { says = "three of one label are three pairs",
    show = labels("A", "A", "A"),
    finds = { { "warn", "universe 1", others = { "universe 2" } }, { "warn", "universe 1", others = { "universe 3" } },
      { "warn", "universe 2", others = { "universe 3" } } } },
  { says = "repeated and too long",
    show = labels(("x"):rep(33), ("x"):rep(33)),
    finds = { { "warn", "universe 1" }, { "warn", "universe 1", others = { "universe 2" } }, { "warn", "universe 2" } } },
  { says = "universes without fixtures are judged",
    show = show { universes = { { id = 40 } } },
    finds = { { "warn", "universe 40" } } },
}
