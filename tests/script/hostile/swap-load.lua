-- A file that decides while it loads.
-- play: swap
-- expect: works only inside run, not while the file loads
choose(1)
return { kind = "swap", name = "swap-load", run = function() end }
