-- The crew's own swap policy: when there are not lanes enough, what has this tag stays lit, whatever else goes dark.
-- The mole has only a half spare (T9 has two radios), and on the mole the tiles spell the name of the harbour.
local function count(fixtures, tag)
  local n = 0
  for _, fixture in ipairs(fixtures) do
    for _, name in ipairs(fixture.tags) do
      if name == tag then
        n = n + 1
      end
    end
  end
  return n
end

return {
  kind = "swap",
  name = "keep-lit",
  about = "keeps the fixtures of one tag lit, whatever else goes dark",
  params = { tag = { "text", default = "tiles", help = "the tag" } },
  run = function(plans, p)
    local best, least = 1, math.huge
    for n, plan in ipairs(plans) do
      local dark = count(plan.fixtures_dark, p.tag)
      if dark < least then
        best, least = n, dark
      end
    end
    choose(best, ("of tag %s stay dark: %d; of all: %d"):format(p.tag, least, plans[best].dark))
  end,
}
