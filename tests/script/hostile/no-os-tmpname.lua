-- What a script is not given: os.tmpname.
-- play: rule
-- expect: os has no 'tmpname'
os.tmpname()
return { kind = "rule", name = "no-os-tmpname", run = function() end }
