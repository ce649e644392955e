-- What a script is not given: os.execute.
-- play: rule
-- expect: os has no 'execute'
os.execute("touch made-by-a-script")
return { kind = "rule", name = "no-os-execute", run = function() end }
