-- What a script is not given: require.
-- play: rule
-- expect: 'require' does not exist in scripts
require("os")
return { kind = "rule", name = "no-require", run = function() end }
