--- Notes a type with a hazard that a fixture uses: sequences never drive it unless a person arms the fixture.
-- @kind rule
-- @reads types: hazard; fixtures: type
-- @usage rigcall check harbour.show.lua --only hazard-marked
-- @output note hazard-marked type fan3 Ground fan: hazard motion: no sequence drives it unless a person arms the fixture
return {
  kind = "rule",
  name = "hazard-marked",
  about = "what sequences will never drive unarmed",
  severity = "note",
  run = function()
    for type in rig.types() do
      if type.hazard and type:used() then
        finding(type, ("hazard %s: no sequence drives it unless a person arms the fixture"):format(type.hazard))
      end
    end
  end,
}
