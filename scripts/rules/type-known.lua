--- Fails a fixture whose type or mode the show does not define.
-- Its footprint is unknown, so of such a fixture the other rules judge the start address alone.
-- @kind rule
-- @reads fixtures: type, mode
-- @usage rigcall check harbour.show.lua --only type-known
-- @output fail type-known fixture 101 Rail 1: type baten12 is not in the show: correct it, or add the type
-- @output fail type-known fixture 102 Rail 2: mode cels is not one of type batten12: correct it, or add the mode
return {
  kind = "rule",
  name = "type-known",
  about = "a fixture's type or mode does not exist",
  severity = "fail",
  run = function()
    for f in rig.fixtures() do
      if not f:mode_known() then
        if f:type_of() then
          finding(f, ("mode %s is not one of type %s: correct it, or add the mode"):format(f.mode, f.type))
        else
          finding(f, ("type %s is not in the show: correct it, or add the type"):format(f.type))
        end
      end
    end
  end,
}
