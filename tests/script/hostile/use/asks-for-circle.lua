-- Two libs that use each other.
-- play: rule
-- expect: uses itself in a circle
use("circle-a")
return { kind = "rule", name = "use/asks-for-circle", run = function() end }
