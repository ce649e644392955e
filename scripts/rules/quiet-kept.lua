--- Fails a quiet band of another department that a transmitter's keep_out leaves open.
-- A band is kept if every 1 MHz hop channel in it (2402..2480) is out; a channel is out if from <= channel <= to of some
-- keep_out. The transmitter is the subject, once for each band. A transmitter without a join code is off the air and not
-- judged.
-- @kind rule
-- @reads quiet; transmitters: code, keep_out
-- @usage rigcall check harbour.show.lua --only quiet-kept
-- @output fail quiet-kept transmitter T1: leaves 2411 MHz open in the quiet band 2402..2423 MHz of camera link
return {
  kind = "rule",
  name = "quiet-kept",
  about = "a quiet band that a transmitter's keep_out leaves open",
  severity = "fail",
  run = function()
    local bands = {}
    for band in rig.quiet() do
      bands[#bands + 1] = band
    end
    for t in rig.transmitters() do
      for _, band in ipairs(t.code and bands or {}) do
        local kept, open = t:keeps(band.from, band.to)
        if not kept then
          finding(t, ("leaves %g MHz open in the quiet band %g..%g MHz%s"):format(
            open, band.from, band.to, band.who and " of " .. band.who or ""))
        end
      end
    end
  end,
}
