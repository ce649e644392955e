-- What a script is not given: os.getenv.
-- play: rule
-- expect: os has no 'getenv'
os.getenv("HOME")
return { kind = "rule", name = "no-os-getenv", run = function() end }
