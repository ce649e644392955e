-- Objects of the show are read-only.
-- play: rule
-- expect: read-only
rig.get("fixture", 1).name = "mine"
return { kind = "rule", name = "no-object-metatable", run = function() end }
