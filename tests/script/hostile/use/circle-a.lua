-- One of two libs that use each other.
-- play: rule
-- expect: uses itself in a circle
use("circle-b")
return { kind = "lib", name = "circle-a", exports = {} }
