-- A hundred questions, not one more.
-- play: swap
-- expect: ask() more than 100 times
-- cpu: 2
return { kind = "swap", name = "swap-ask-often", run = function(plans, p)
  while ask("Well?") ~= "yes" do end
end }
