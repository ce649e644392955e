-- The lists of a plan, again and again.
-- play: swap
-- expect: 64 MiB of memory | passed the limit of 2 s
-- cpu: 2
return { kind = "swap", name = "swap-memory", run = function(plans, p)
  local kept = {}
  while true do
    plans[1].steps = nil
    kept[#kept + 1] = plans[1].steps
  end
end }
