-- A rule chooses nothing.
-- play: rule
-- expect: choose() belongs to swap policies; this script is a rule
return { kind = "rule", name = "choose-in-rule", run = function() choose(1) end }
