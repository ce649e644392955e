-- A rule that another script takes for a lib.
-- play: rule
-- expect: ends well
return { kind = "rule", name = "is-rule", run = function() end }
