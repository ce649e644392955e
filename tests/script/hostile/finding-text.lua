-- A finding without text.
-- play: rule
-- expect: text | string
-- cpu: 5
return { kind = "rule", name = "finding-text", run = function()
  fail(rig.get("fixture", 1), {})
end }
