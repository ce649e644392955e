--- Fails a start address outside 1..512, and a fixture whose last slot would be past 512 (slots of a universe: ANSI
-- E1.11).
-- Without a known type and mode only the start address is judged.
-- @kind rule
-- @reads fixtures: address, footprint
-- @usage rigcall check harbour.show.lua --only address-fits
-- @output fail address-fits fixture 101 Rail 1: starts at 513, allowed are 1..512
-- @output fail address-fits fixture 102 Rail 2: slots 470..529 run past 512: with 60 slots it can start at 1..453
local SLOTS = 512

return {
  kind = "rule",
  name = "address-fits",
  about = "start address outside 1..512, or the last slot past 512",
  severity = "fail",
  run = function()
    for f in rig.fixtures() do
      local from = f.address
      if from and (from < 1 or from > SLOTS) then
        finding(f, ("starts at %d, allowed are 1..%d"):format(from, SLOTS))
      elseif from then
        local last = f:last()
        if last and last > SLOTS then
          local footprint = f:footprint()
          local cure = footprint <= SLOTS
            and ("with %d slots it can start at 1..%d"):format(footprint, SLOTS - footprint + 1)
            or ("its mode takes %d slots, more than a universe has"):format(footprint)
          finding(f, ("slots %d..%d run past %d: %s"):format(from, last, SLOTS, cure))
        end
      end
    end
  end,
}
