-- A default that is no number.
-- play: rule
-- expect: is wrong
return { kind = "rule", name = "x", params = { p = { "number", default = 0 / 0 } }, run = function() end }
