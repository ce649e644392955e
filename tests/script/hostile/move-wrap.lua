-- table.move to where integers end.
-- play: rule
-- expect: wrap around | too many elements
table.move({ 1, 2, 3 }, 1, 3, math.maxinteger)
return { kind = "rule", name = "move-wrap", run = function() end }
