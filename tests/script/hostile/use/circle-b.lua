-- The other.
-- play: rule
-- expect: uses itself in a circle
use("circle-a")
return { kind = "lib", name = "circle-b", exports = {} }
