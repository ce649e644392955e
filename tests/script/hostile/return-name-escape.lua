-- A name that steers a terminal.
-- play: rule
-- expect: is not
return { kind = "rule", name = "x\27[2J", run = function() end }
