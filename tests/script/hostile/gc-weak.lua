-- __mode is left out of metatables: no weak-table bomb.
-- play: rule
-- expect: ends well | passed the limit of
local ephemerons = setmetatable({}, { __mode = "k" })
local first = {}
local key = first
for i = 1, 60000 do
  local next_key = {}
  ephemerons[key] = next_key
  key = next_key
end
local waste = {}
for i = 1, 300000 do waste[i % 100] = { i } end
if next(ephemerons) == nil then error("collected") end
return { kind = "rule", name = "gc-weak", run = function() end }
