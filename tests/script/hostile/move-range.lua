-- table.move over 2^62 entries.
-- play: rule
-- expect: too many elements to move
table.move({}, 1, 1 << 62, 2)
return { kind = "rule", name = "move-range", run = function() end }
