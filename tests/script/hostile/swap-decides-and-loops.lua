-- A decision does not end the limit.
-- play: swap
-- expect: passed the limit of 2 s CPU time
-- cpu: 2
return { kind = "swap", name = "swap-decides-and-loops", run = function(plans, p)
  choose(1)
  while true do end
end }
