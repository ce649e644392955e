-- A policy that never decides passes its own limit.
-- play: swap
-- expect: passed the limit of 2 s CPU time
-- cpu: 2
return { kind = "swap", name = "swap-loop", run = function(plans, p)
  while true do end
end }
