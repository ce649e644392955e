-- Unknown keys are rejected.
-- play: rule
-- expect: has no key 'rnu'
return { kind = "rule", name = "x", rnu = 1, run = function() end }
