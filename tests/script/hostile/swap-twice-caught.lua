-- The first decision counts, whatever is caught behind it.
-- play: swap
-- expect: ends well
-- cpu: 2
return { kind = "swap", name = "swap-twice-caught", run = function(plans, p)
  pcall(choose, 1)
  pcall(choose, 2)
  pcall(refuse, "no")
  pcall(ask, "Really?")
end }
