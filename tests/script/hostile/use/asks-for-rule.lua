-- use() of a sibling that is no lib.
-- play: rule
-- expect: kind is "rule"
use("is-rule")
return { kind = "rule", name = "use/asks-for-rule", run = function() end }
