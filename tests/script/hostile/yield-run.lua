-- A yield of the rule itself.
-- play: rule
-- expect: coroutine.yield works only inside a coroutine
-- cpu: 5
return { kind = "rule", name = "yield-run", run = function()
  coroutine.yield()
end }
