-- A rule is no policy, whatever it would do.
-- play: swap
-- expect: is a rule, not a swap policy
return { kind = "rule", name = "swap-kind", run = function() choose(1) end }
