-- An iterator called with nonsense and after its end.
-- play: rule
-- expect: ends well | expected
-- cpu: 5
return { kind = "rule", name = "iterator-abuse", run = function()
  local it = rig.fixtures{}
  for i = 1, 100 do it(nil, 1 << 40) it({}, -1) it() end
end }
