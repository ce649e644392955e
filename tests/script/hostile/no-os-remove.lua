-- What a script is not given: os.remove.
-- play: rule
-- expect: os has no 'remove'
os.remove("/tmp/x")
return { kind = "rule", name = "no-os-remove", run = function() end }
