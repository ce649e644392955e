-- Texts with control characters, wrong UTF-8 and NUL.
-- play: rule
-- expect: ends well
-- cpu: 5
return { kind = "rule", name = "hostile-text", run = function()
  local f = rig.get("fixture", 1)
  fail(f, "\27[2J\27]0;title\7\0\255\192\128\r\n\u{202e}\u{85}")
  print("\27[31m\0\255")
end }
