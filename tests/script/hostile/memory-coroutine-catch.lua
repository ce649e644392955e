-- coroutine.resume must not catch the limit of memory.
-- play: rule
-- expect: passed the limit of 64 MiB of memory
while true do
  coroutine.resume(coroutine.create(function() local t = {} while true do t[#t + 1] = string.rep("x", 1 << 20) end end))
end
return { kind = "rule", name = "memory-coroutine-catch", run = function() end }
