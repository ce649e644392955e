-- Closing variables that raise while others close.
-- play: rule
-- expect: overflow | ends well | limit | now
local function f(n)
  local x <close> = setmetatable({}, { __close = function() error("now") end })
  return f(n + 1)
end
local result = f(1)
return { kind = "rule", name = "deep-close", run = function() end }
