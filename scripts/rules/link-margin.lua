--- Warns of a fixture whose link margin is under 10 dB: EIRP - free-space loss at 2442 MHz (ITU-R P.525) - receiver
-- sensitivity (its type's, by default -85 dBm).
-- Free space is the best case: an audience costs 10..20 dB (common practice, no source). Silent without EIRP or a
-- position.
-- @kind rule
-- @reads fixtures: code, air, lane, pos, type; transmitters: eirp_dbm, pos; types: sensitivity_dbm
-- @usage rigcall check harbour.show.lua --only link-margin
-- @output warn link-margin fixture 101 Rail 1: margin 6.2 dB to transmitter T1 Quay mast at 118.0 m, 10 dB are wanted
local WANTED_DB = 10

return {
  kind = "rule",
  name = "link-margin",
  about = "EIRP - free-space loss - receiver sensitivity under 10 dB",
  severity = "warn",
  run = function()
    for f in rig.fixtures() do
      local t = f:transmitter()
      local margin = t and rig.margin_db(t, f)
      if margin and margin < WANTED_DB and f:mode_known() then
        local text = "margin %.1f dB to %s at %.1f m, %d dB are wanted"
        finding(f, text:format(margin, tostring(t), rig.distance(t, f), WANTED_DB))
      end
    end
  end,
}
