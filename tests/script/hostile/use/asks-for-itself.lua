-- use() of itself.
-- play: rule
-- expect: uses itself in a circle
use("asks-for-itself")
return { kind = "rule", name = "use/asks-for-itself", run = function() end }
