-- A sequence that resumes itself: coroutine.running gives nobody its own.
-- play: sequence
-- expect: expected
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "resume-itself", run = function()
  coroutine.resume(coroutine.running())
end }
