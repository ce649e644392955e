-- What a script is not given: debug.getregistry.
-- play: rule
-- expect: 'debug' does not exist in scripts
debug.getregistry()
return { kind = "rule", name = "no-debug", run = function() end }
