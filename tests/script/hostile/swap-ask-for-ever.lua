-- Questions are counted; a script that catches that error only loops.
-- play: swap
-- expect: passed the limit of 2 s CPU time
-- cpu: 2
return { kind = "swap", name = "swap-ask-for-ever", run = function(plans, p)
  while true do
    pcall(ask, "Well?")
  end
end }
