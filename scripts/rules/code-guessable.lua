--- Warns of a transmitter's join code that anybody tries first: one digit eight times, or a run up or down.
-- A run does not wrap: 89012345 is none. A code that is not eight digits is code-form's.
-- @kind rule
-- @reads transmitters: code
-- @usage rigcall check harbour.show.lua --only code-guessable
-- @output warn code-guessable transmitter T1 Quay mast: join code 12345678 is a run of digits: choose one by chance
local function fault(code)
  if #code ~= 8 or code:find("[^0-9]") then
    return nil
  end
  if code == code:sub(1, 1):rep(8) then
    return "one digit eight times"
  end
  if ("0123456789"):find(code, 1, true) or ("9876543210"):find(code, 1, true) then
    return "a run of digits"
  end
end

return {
  kind = "rule",
  name = "code-guessable",
  about = "a join code that is all one digit, or a run up or down",
  severity = "warn",
  run = function()
    for t in rig.transmitters() do
      local what = t.code and fault(t.code)
      if what then
        finding(t, ("join code %s is %s: choose one by chance"):format(t.code, what))
      end
    end
  end,
}
