-- print is bounded, in length and in lines.
-- play: rule
-- expect: ends well
for i = 1, 10000 do print(("flood"):rep(1000)) end
return { kind = "rule", name = "flood-print", run = function() end }
