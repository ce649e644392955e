-- What a script is not given: load.
-- play: rule
-- expect: 'load' does not exist in scripts
load("return 1")
return { kind = "rule", name = "no-load", run = function() end }
