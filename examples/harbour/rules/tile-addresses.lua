--- Warns of pixel tiles that do not start at 1, 129, 257 or 385.
-- A house rule, not a law: fixtures of 128 slots go four to a universe (common practice, no source). Any tile that starts
-- elsewhere was typed wrong, and this finds it even where the slot it reaches into happens to be free.
-- @kind rule
-- @usage rigcall check examples/harbour/harbour.show.lua --only tile-addresses
-- @output warn tile-addresses fixture 106 Quay west 2 tile 2: starts at 128; tiles start at 1, 129, 257 or 385 (129 is nearest)

return {
  kind = "rule", name = "tile-addresses", severity = "warn",
  about = "tiles that do not start at 1, 129, 257 or 385",
  params = {
    slots = { "integer", min = 1, max = 512, default = 128, help = "footprint of the fixtures to look at" },
  },
  run = function(p)
    for f in rig.fixtures{ where = function(f) return f.address and f:footprint() == p.slots end } do
      if (f.address - 1) % p.slots ~= 0 then
        local nearest = (f.address - 1 + p.slots // 2) // p.slots * p.slots + 1
        finding(f, ("starts at %d; tiles start at 1, 129, 257 or 385 (%d is nearest)"):format(f.address, nearest))
      end
    end
  end,
}
