-- What a script is not given: loadstring.
-- play: rule
-- expect: 'loadstring' does not exist in scripts
loadstring("return 1")
return { kind = "rule", name = "no-loadstring", run = function() end }
