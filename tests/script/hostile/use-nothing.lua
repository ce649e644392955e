-- use() of a lib that does not exist, by a path.
-- play: rule
-- expect: no lib
use("../../../../etc/passwd")
return { kind = "rule", name = "use-nothing", run = function() end }
