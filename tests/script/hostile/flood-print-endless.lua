-- print for ever passes the limit of CPU time.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
while true do print("flood") end
return { kind = "rule", name = "flood-print-endless", run = function() end }
