-- A plain find of a long text in a long text.
-- play: rule
-- expect: CPU time | ends well | text is longer | too costly
local s = ("a"):rep(1 << 23)
local result = string.find(s, ("a"):rep(1 << 22) .. "b", 1, true)
return { kind = "rule", name = "plain-find", run = function() end }
