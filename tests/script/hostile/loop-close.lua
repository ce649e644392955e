-- No hook fires in the closing of a variable after an error.
-- play: rule
-- expect: passed the limit of 0.5 s CPU time
pcall(function()
  local x <close> = setmetatable({}, { __close = function() while true do end end })
  error("now")
end)
return { kind = "rule", name = "loop-close", run = function() end }
