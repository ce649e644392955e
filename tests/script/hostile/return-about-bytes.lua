-- An about that is no UTF-8.
-- play: rule
-- expect: is not UTF-8
return { kind = "rule", name = "x", about = "\255\254", run = function() end }
