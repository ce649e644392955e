-- 5.4.4: a wrapped coroutine that breaks while it closes.
-- play: rule
-- expect: contained
for i = 1, 1000 do
  local f = coroutine.wrap(function()
    local x <close> = setmetatable({}, { __close = function() local y <close> = setmetatable({}, { __close = function() error("inner") end }) error("outer") end })
    coroutine.yield()
    error("body")
  end)
  f()
  pcall(f)
  pcall(f)
end
return { kind = "rule", name = "old-wrap-close", run = function() end }
