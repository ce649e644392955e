-- A finding about a number.
-- play: rule
-- expect: expected
-- cpu: 5
return { kind = "rule", name = "finding-number", run = function()
  fail(42, "x")
end }
