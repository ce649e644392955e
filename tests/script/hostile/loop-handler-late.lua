-- A limit that is passed in a pcall inside a handler.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
xpcall(error, function() while true do pcall(function() while true do end end) end end)
return { kind = "rule", name = "loop-handler-late", run = function() end }
