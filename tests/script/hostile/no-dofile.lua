-- What a script is not given: dofile.
-- play: rule
-- expect: 'dofile' does not exist in scripts
dofile("/etc/passwd")
return { kind = "rule", name = "no-dofile", run = function() end }
