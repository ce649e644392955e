-- What a script is not given: loadfile.
-- play: rule
-- expect: 'loadfile' does not exist in scripts
loadfile("/etc/passwd")
return { kind = "rule", name = "no-loadfile", run = function() end }
