-- Yields in closing functions.
-- play: rule
-- expect: contained
for i = 1, 200 do
  local co = coroutine.create(function()
    local a <close> = setmetatable({}, { __close = function() coroutine.yield(1) end })
    local b <close> = setmetatable({}, { __close = function() coroutine.yield(2) error("b") end })
    return string.rep("x", 100), 2, 3
  end)
  for k = 1, 5 do coroutine.resume(co) end
  coroutine.close(co)
end
return { kind = "rule", name = "old-close-yield", run = function() end }
