-- A lib or a function has no way to the real globals.
-- play: rule
-- expect: ends well
for k, v in pairs(_ENV) do assert(k ~= "load" and k ~= "io" and k ~= "debug" and k ~= "_G") end
return { kind = "rule", name = "no-function-environment", run = function() end }
