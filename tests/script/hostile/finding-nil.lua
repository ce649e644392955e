-- A finding about nothing.
-- play: rule
-- expect: expected
-- cpu: 5
return { kind = "rule", name = "finding-nil", run = function()
  fail(nil, "x")
end }
