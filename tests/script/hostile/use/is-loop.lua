-- A lib that loops while it loads.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
while true do end
