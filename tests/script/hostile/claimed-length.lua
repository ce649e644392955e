-- A table that claims 2^62 entries: lengths are raw.
-- play: rule
-- expect: ends well
local liar = setmetatable({}, { __len = function() return 1 << 62 end })
assert(table.concat(liar) == "" and select("#", table.unpack(liar)) == 0)
table.sort(liar)
table.insert(liar, 1)
table.remove(liar)
return { kind = "rule", name = "claimed-length", run = function() end }
