-- A yield while the script loads.
-- play: rule
-- expect: coroutine.yield works only inside a coroutine
coroutine.yield()
return { kind = "rule", name = "yield-load", run = function() end }
