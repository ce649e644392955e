-- A kind that does not exist.
-- play: rule
-- expect: is not known
return { kind = "ruler", name = "x", run = function() end }
