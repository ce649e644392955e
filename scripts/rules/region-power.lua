--- Warns of an EIRP above the 2.4 GHz limit of the show's region, as wireless-regdb gives it.
-- Silent without a region, with one that the table does not have, and for a transmitter without EIRP. Local rules and
-- licensed practice come first.
-- @kind rule
-- @reads show: region; transmitters: eirp_dbm
-- @usage rigcall check harbour.show.lua --only region-power
-- @output warn region-power transmitter T1 Quay mast: EIRP 27 dBm, limit in GB is 20 dBm (wireless-regdb)
return {
  kind = "rule",
  name = "region-power",
  about = "EIRP above the region's 2.4 GHz limit",
  severity = "warn",
  run = function()
    local limit = rig.region_limit_dbm()
    for t in rig.transmitters() do
      local eirp = limit and t.eirp_dbm
      if eirp and eirp > limit then
        finding(t, ("EIRP %.10g dBm, limit in %s is %.10g dBm (wireless-regdb)"):format(eirp, rig.show().region, limit))
      end
    end
  end,
}
