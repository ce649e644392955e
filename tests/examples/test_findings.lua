-- What `rigcall check` says of the example shows: nothing to mend in the courtyard, and in the harbour exactly the planted
-- mistakes of harbour-expected.tsv, which was written by hand from examples/README.md.
package.path = SOURCE .. "/tests/sequences/?.lua"
local play = require("play")

local function check(show)
  local status, text, line = play.command("check", SOURCE .. "/examples/" .. show, "--format", "json")
  local ok, report = pcall(json, text)
  assert(ok, line .. "\n" .. text)
  return report, status
end

local function subject(s) return s.kind .. ":" .. s.id end

-- The committed show is what its maker writes.
local file = assert(io.open(SOURCE .. "/examples/harbour/harbour.show.lua", "rb"))
local committed = file:read("a")
file:close()
assert(committed == dofile(SOURCE .. "/tests/examples/make-harbour.lua"), "harbour.show.lua is not what make-harbour.lua writes")

local report, status = check("courtyard/courtyard.show.lua")
assert(status == 0, "courtyard: exit status " .. status)
for _, finding in ipairs(report.findings) do
  assert(finding.severity == "note", ("courtyard: %s %s: %s"):format(finding.rule, subject(finding.subject), finding.text))
end
assert(report.counts.fail == 0 and report.counts.warn == 0)
assert(#report.findings == 1 and report.findings[1].rule == "hazard-marked" and report.findings[1].subject.id == "fogger")

-- Rules of the crew lie beside the shows and ran.
local function ran(rules, name)
  for _, rule in ipairs(rules) do
    if rule == name then return true end
  end
  error("rule " .. name .. " did not run")
end
ran(report.rules, "firmware-alike")

report, status = check("harbour/harbour.show.lua")
assert(status == 1, "harbour: exit status " .. status)
ran(report.rules, "tile-addresses")
ran(report.rules, "transmitter-hosts")
local found = {}
for _, finding in ipairs(report.findings) do
  local key = table.concat({ finding.rule, finding.severity, subject(finding.subject) }, " ")
  assert(not found[key], "found twice: " .. key)
  local others = {}
  for i, other in ipairs(finding.others) do others[i] = subject(other) end
  found[key] = { others = table.concat(others, " "), text = finding.text }
end
local wanted, faults = 0, {}
for line in io.lines(SOURCE .. "/tests/examples/harbour-expected.tsv") do
  if line:sub(1, 1) ~= "#" then
    local _, rule, severity, kind, id, others = line:match("^(%S+)\t(%S+)\t(%S+)\t(%S+)\t(%S+)\t(%S+)$")
    assert(rule, "no row of six: " .. line)
    local key = ("%s %s %s:%s"):format(rule, severity, kind, id)
    wanted = wanted + 1
    if not found[key] then
      faults[#faults + 1] = "not found: " .. key
    elseif others ~= "?" and found[key].others ~= (others == "-" and "" or others) then
      faults[#faults + 1] = ("%s: others are %s, wanted %s"):format(key, found[key].others, others)
    end
    found[key] = nil
  end
end
assert(wanted == 29)
for key, finding in pairs(found) do faults[#faults + 1] = ("not planted: %s: %s"):format(key, finding.text) end
table.sort(faults)
assert(#faults == 0, table.concat(faults, "\n"))
