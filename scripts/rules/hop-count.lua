--- Fails a transmitter that keeps out of so much of the band that fewer than 15 of the 79 hop channels 2402..2480 MHz
-- are left.
-- 15 is the floor of 47 CFR 15.247 (a)(1)(iii), used in every region. A transmitter without a join code is off the air
-- and not judged.
-- @kind rule
-- @reads transmitters: code, keep_out
-- @usage rigcall check harbour.show.lua --only hop-count
-- @output fail hop-count transmitter T1 Quay mast: 11 of 79 hop channels left after keep_out, 15 are needed (47 CFR 15.247)
local FLOOR, CHANNELS = 15, 79

return {
  kind = "rule",
  name = "hop-count",
  about = "fewer than 15 of the 79 one-MHz channels left after keep_out",
  severity = "fail",
  run = function()
    for t in rig.transmitters() do
      local left = t.code and rig.hops(t)
      if left and left < FLOOR then
        local text = "%d of %d hop channels left after keep_out, %d are needed (47 CFR 15.247)"
        finding(t, text:format(left, CHANNELS, FLOOR))
      end
    end
  end,
}
