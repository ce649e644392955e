-- A name of a thousand letters.
-- play: rule
-- expect: octets; at most
return { kind = "rule", name = ("x"):rep(1000), run = function() end }
