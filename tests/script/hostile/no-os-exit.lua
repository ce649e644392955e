-- What a script is not given: os.exit.
-- play: rule
-- expect: os has no 'exit'
os.exit(0, true)
return { kind = "rule", name = "no-os-exit", run = function() end }
