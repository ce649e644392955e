-- os.date with a long format.
-- play: rule
-- expect: CPU time | ends well | too long | memory
local result = #os.date(("%c"):rep(1 << 16))
return { kind = "rule", name = "date-long", run = function() end }
