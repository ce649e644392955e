-- What a script is not given: os.setlocale.
-- play: rule
-- expect: os has no 'setlocale'
os.setlocale("de_DE")
return { kind = "rule", name = "no-os-setlocale", run = function() end }
