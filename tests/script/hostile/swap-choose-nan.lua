-- No number at all.
-- play: swap
-- expect: number has no integer representation
-- cpu: 2
return { kind = "swap", name = "swap-choose-nan", run = function(plans, p)
  choose(0 / 0)
end }
