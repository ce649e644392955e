-- A policy is no rule.
-- play: rule
-- expect: is a swap, not a rule
return { kind = "swap", name = "swap-as-rule", run = function() choose(1) end }
