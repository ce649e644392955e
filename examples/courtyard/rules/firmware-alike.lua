--- Warns of fixtures of one type with different firmware.
-- Two firmwares often fade differently although both are new enough for their air mode. Finds nothing as the show stands:
-- change the firmware of fixture 204 to "3.0" and run the check again.
-- @kind rule
-- @usage rigcall check examples/courtyard/courtyard.show.lua --only firmware-alike
-- @output warn firmware-alike fixture 204 Tree 4: firmware 3.0, where 5 others of type wash have 3.1

return {
  kind = "rule", name = "firmware-alike", severity = "warn",
  about = "fixtures of one type with different firmware",
  run = function()
    local types = {}                          -- type -> firmware -> fixtures, each in patch order
    local order = {}
    for f in rig.fixtures{ where = function(f) return f.firmware ~= nil end } do
      if not types[f.type] then
        types[f.type] = {}
        order[#order + 1] = f.type
      end
      local of_type = types[f.type]
      of_type[f.firmware] = of_type[f.firmware] or {}
      table.insert(of_type[f.firmware], f)
    end
    for _, type_id in ipairs(order) do
      local usual, most = nil, 0
      for firmware, list in pairs(types[type_id]) do
        if #list > most or (#list == most and firmware > usual) then usual, most = firmware, #list end
      end
      for firmware, list in pairs(types[type_id]) do
        for _, f in ipairs(firmware ~= usual and list or {}) do
          finding(f, ("firmware %s, where %d others of type %s have %s"):format(firmware, most, type_id, usual))
        end
      end
    end
  end,
}
