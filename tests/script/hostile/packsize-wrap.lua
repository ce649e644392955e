-- string.packsize whose sum would wrap.
-- play: rule
-- expect: format result too large | invalid format
local result = string.packsize("c2147483647c2147483647")
return { kind = "rule", name = "packsize-wrap", run = function() end }
