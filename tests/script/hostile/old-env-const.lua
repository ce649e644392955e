-- 5.4.4: a constant _ENV gave wrong code.
-- play: rule
-- expect: contained
local pcall = pcall
local function f() local _ENV <const> = { 1 } x = 2 return x end
pcall(f)
do
  local _ENV <const> = nil
  pcall(function() return y end)
end
return { kind = "rule", name = "old-env-const", run = function() end }
