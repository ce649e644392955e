-- A name that is a path.
-- play: rule
-- expect: is not 1 to 64 of
return { kind = "rule", name = "../../etc/passwd", run = function() end }
