-- wait() in a filter.
-- play: sequence
-- expect: wait() does not work inside a function that sort
local function first() return (rig.fixtures{}()) end
return { kind = "sequence", name = "wait-in-filter", run = function()
  for f in rig.fixtures{ where = function() wait(1) return true end } do end
end }
