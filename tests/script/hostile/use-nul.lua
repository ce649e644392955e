-- use() of a name with a NUL.
-- play: rule
-- expect: no lib | expected
use("lights\0.lua")
return { kind = "rule", name = "use-nul", run = function() end }
