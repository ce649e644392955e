-- The rig table of one script is its own: changing it harms nobody else.
-- play: rule
-- expect: ends well | read-only | attempt
rig.fixtures = function() end
return { kind = "rule", name = "no-rig-change", run = function() end }
