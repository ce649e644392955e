-- 5.4.4: closing variables moved the stack under C functions.
-- play: rule
-- expect: contained
local function grow(n) if n > 0 then return grow(n - 1) + 1 end return 0 end
local function closing() return setmetatable({}, { __close = function() grow(5000) end }) end
for i = 1, 100 do
  pcall(function() local a <close> = closing() local b <close> = nil for k, v in next, { 1, 2 }, nil, closing() do if k == 2 then break end end return grow(10) end)
  coroutine.wrap(function() local a <close> = closing() return grow(100) end)()
end
return { kind = "rule", name = "old-settop-close", run = function() end }
