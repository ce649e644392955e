-- What a script is not given: string.dump.
-- play: rule
-- expect: attempt to call a nil value (field 'dump') | has no 'dump'
string.dump(function() end)
return { kind = "rule", name = "no-string-dump", run = function() end }
