-- What a script is not given: _G.print = nil.
-- play: rule
-- expect: '_G' does not exist in scripts
_G.print = nil
return { kind = "rule", name = "no-globals", run = function() end }
