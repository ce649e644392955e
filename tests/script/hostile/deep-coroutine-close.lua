-- coroutine.close within coroutine.close: Lua 5.4.4 does not count these.
-- play: rule
-- expect: within each other | overflow | limit
local function f()
  local co = coroutine.create(function()
    local x <close> = setmetatable({}, { __close = f })
    coroutine.yield()
  end)
  coroutine.resume(co)
  return assert(coroutine.close(co))
end
f()
return { kind = "rule", name = "deep-coroutine-close", run = function() end }
