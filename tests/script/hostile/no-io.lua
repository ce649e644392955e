-- What a script is not given: io.open.
-- play: rule
-- expect: 'io' does not exist in scripts
io.open("made-by-a-script", "w")
return { kind = "rule", name = "no-io", run = function() end }
