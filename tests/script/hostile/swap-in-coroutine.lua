-- Questions and decisions work in a coroutine, a yield of run itself does not.
-- play: swap
-- expect: coroutine.yield works only inside a coroutine that the script made
-- cpu: 2
return { kind = "swap", name = "swap-in-coroutine", run = function(plans, p)
  local co = coroutine.wrap(function() coroutine.yield(ask("Well?")) choose(1) end)
  assert(co() == "no")
  coroutine.yield()
end }
