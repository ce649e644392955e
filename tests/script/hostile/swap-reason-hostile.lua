-- A reason that steers a terminal, is no text, and is long.
-- play: swap
-- expect: ends well
-- cpu: 2
return { kind = "swap", name = "swap-reason-hostile", run = function(plans, p)
  choose(1, ("\27[2J\xff\u{202e}\n"):rep(10000))
end }
