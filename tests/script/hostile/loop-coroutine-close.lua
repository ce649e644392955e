-- coroutine.close must not catch a limit.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
while true do
  local co = coroutine.create(function()
    local x <close> = setmetatable({}, { __close = function() while true do end end })
    coroutine.yield()
  end)
  coroutine.resume(co)
  coroutine.close(co)
end
return { kind = "rule", name = "loop-coroutine-close", run = function() end }
