-- table.move of ten million nothings, for ever.
-- play: rule
-- expect: passed the limit of
while true do table.move({}, 1, 9999999, 2) end
return { kind = "rule", name = "move-million", run = function() end }
