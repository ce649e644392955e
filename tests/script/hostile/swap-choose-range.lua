-- Numbers that are no plan.
-- play: swap
-- expect: no plan
-- cpu: 2
return { kind = "swap", name = "swap-choose-range", run = function(plans, p)
  for _, n in ipairs{ 0, -1, 3, 2^31, 2^32 + 1, math.mininteger } do
    assert(not pcall(choose, n))
  end
  choose(math.maxinteger)
end }
