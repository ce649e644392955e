-- wait() in a replacement.
-- play: sequence
-- expect: wait() does not work inside a function that sort
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-in-gsub", run = function()
  string.gsub("x", "x", function() wait(1) end)
end }
