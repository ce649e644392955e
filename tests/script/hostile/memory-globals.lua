-- Memory: global names, and an unknown one then.
-- play: rule
-- expect: passed the limit of
for i = 1, math.maxinteger do _ENV["name" .. i] = i end
return { kind = "rule", name = "memory-globals", run = function() end }
