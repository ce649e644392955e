-- What a script is not given: collectgarbage.
-- play: rule
-- expect: 'collectgarbage' does not exist in scripts
collectgarbage("stop")
return { kind = "rule", name = "no-collectgarbage", run = function() end }
