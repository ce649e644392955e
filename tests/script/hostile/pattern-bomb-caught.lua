-- A budget of steps that pcall catches, again and again.
-- play: rule
-- expect: passed the limit of
while true do pcall(string.find, ("a"):rep(200), ("a*"):rep(12) .. "b") end
return { kind = "rule", name = "pattern-bomb-caught", run = function() end }
