--- Fails a join code that is not eight decimal digits, on a transmitter or a fixture.
-- @kind rule
-- @reads transmitters, fixtures: code
-- @usage rigcall check harbour.show.lua --only code-form
-- @output fail code-form fixture 101 Rail 1: join code "4071826" has 7 characters, eight decimal digits are needed
-- @output fail code-form transmitter T1 Quay mast: join code "4071826x" is not eight decimal digits
local DIGITS = 8
local right = {} -- by code: few codes serve many fixtures

local function is_right(code)
  if right[code] == nil then
    right[code] = #code == DIGITS and not code:find("[^0-9]")
  end
  return right[code]
end

local function judge(object, code)
  if code and not is_right(code) then
    local length = rig.text_length(code)
    local count = length == 1 and "1 character" or length .. " characters"
    finding(object, length == DIGITS and ('join code "%s" is not eight decimal digits'):format(code)
      or ('join code "%s" has %s, eight decimal digits are needed'):format(code, count))
  end
end

return {
  kind = "rule",
  name = "code-form",
  about = "a join code that is not eight decimal digits",
  severity = "fail",
  run = function()
    for t in rig.transmitters() do
      judge(t, t.code)
    end
    for f in rig.fixtures() do
      local code = f.code
      if code and not right[code] and f:mode_known() then
        judge(f, code)
      end
    end
  end,
}
