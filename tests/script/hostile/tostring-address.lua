-- tostring shows no addresses.
-- play: rule
-- expect: ends well
assert(not tostring({}):find("0x") and not tostring(print):find("0x") and not tostring(coroutine.create(print)):find("0x"))
return { kind = "rule", name = "tostring-address", run = function() end }
