-- wait() in a comparison.
-- play: sequence
-- expect: wait() does not work inside a function that sort
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-in-sort", run = function()
  table.sort({ 2, 1 }, function() wait(1) end)
end }
