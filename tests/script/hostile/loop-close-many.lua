-- A thousand closing functions, each with a loop.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
local function f(n)
  local x <close> = setmetatable({}, { __close = function() for i = 1, 1e9 do end end })
  if n > 0 then f(n - 1) else error("now") end
end
pcall(f, 150)
return { kind = "rule", name = "loop-close-many", run = function() end }
