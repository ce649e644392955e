-- The metatable of a plan is nobody's.
-- play: swap
-- expect: cannot change a protected metatable
-- cpu: 2
return { kind = "swap", name = "swap-metatable", run = function(plans, p)
  assert(getmetatable(plans[1]) == false)
  local copy = setmetatable({}, { __index = plans[1], __pairs = function() return next, plans[1] end })
  assert(#copy.steps == 2000)
  for _ in pairs(copy) do end
  setmetatable(plans[1], { __index = function() error("mine") end })
end }
