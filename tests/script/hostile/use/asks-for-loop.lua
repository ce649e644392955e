-- use() of a sibling that loops while it loads.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
use("is-loop")
return { kind = "rule", name = "use/asks-for-loop", run = function() end }
