-- wait() in a rule.
-- play: rule
-- expect: wait() belongs to sequences
-- cpu: 5
return { kind = "rule", name = "wait-in-rule", run = function()
  wait(1)
end }
