-- Helpers for the cases in cases/*.lua, one file a rule. A case file returns a list of cases:
--   { says = "…", rules = { … }, show = show{ … }, finds = { { "fail", "fixture 1", others = { "fixture 2" }, text = "…" } } }
-- `finds` is everything the rule must find, `{}` that it must stay silent; `others` and `text` are left out where there are
-- none and where the wording is not the point. `rules` (default: the rule of the file) runs several; a find of another rule
-- than the file's says `rule = "…"`. `before` is the show kept before this one, or its text.
-- Expected values are worked out by hand from the words of the rule; a published source stands beside the case.
local M = {}

none = {} -- in place of a value: leave out what the helper would give

local function filled(defaults, fields)
  local object = {}
  for key, value in pairs(defaults) do
    object[key] = value
  end
  for key, value in pairs(fields) do
    if value == none then
      object[key] = nil
    else
      object[key] = value
    end
  end
  return object
end

--- A wireless fixture in reach of T{}, on its lane 1 and so in universe 1, four slots from address 1.
function F(fields)
  return filled({ id = 1, name = "Lamp", type = "wash", mode = "plain", site = "quay", pos = { 10, 0, 0 },
    universe = 1, address = 1, code = "40718263", air = "dual", lane = 1 }, fields)
end

--- A transmitter at the origin with a reach of 100 m and four radios in dual; lane 1 carries universe 1, lane 2 universe 2.
function T(fields)
  return filled({ id = "T1", name = "Mast", site = "quay", pos = { 0, 0, 0 }, reach = 100, radios = 4,
    airs = { "single", "dual" }, air = "dual", code = "40718263", lanes = L { { 1, 1 }, { 2, 2 } } }, fields)
end

--- Lane entries from pairs of lane and universe.
function L(pairs_of)
  local lanes = {}
  for i, pair in ipairs(pairs_of) do
    lanes[i] = { lane = pair[1], universe = pair[2] }
  end
  return lanes
end

--- Bands from pairs of MHz.
function B(pairs_of)
  local bands = {}
  for i, pair in ipairs(pairs_of) do
    bands[i] = { from = pair[1], to = pair[2], who = pair[3] }
  end
  return bands
end

--- A mode of `cells` cells of four slots.
function mode(id, cells)
  return { id = id, head = {}, cells = cells, slots = { "intensity", "red", "green", "blue" }, tail = {} }
end

--- Type "wash": modes plain (4 slots), wide (64), tile (128), whole (512) and over (600).
function W(fields)
  return filled({ id = "wash", name = "Wash", airs = { "single", "dual" }, modes = { mode("plain", 1), mode("wide", 16),
    mode("tile", 32), mode("whole", 128), mode("over", 150) } }, fields)
end

--- A show of sites quay and barge, type wash, and universes 1 and 2.
function show(fields)
  return filled({ rigcall = 1, name = "Cases", sites = { { id = "quay", name = "Quay" }, { id = "barge", name = "Barge" } },
    types = { W {} }, transmitters = {}, universes = { { id = 1, label = "One" }, { id = 2, label = "Two" } },
    fixtures = {} }, fields)
end

--- The text of a show file.
function M.text(value)
  if math.type(value) == "float" then
    return ("%.17g"):format(value) -- all of it
  end
  if type(value) ~= "table" then
    return type(value) == "string" and ("%q"):format(value) or tostring(value)
  end
  local parts = {}
  for _, item in ipairs(value) do
    parts[#parts + 1] = M.text(item)
  end
  local keys = {}
  for key in pairs(value) do
    if type(key) == "string" then
      keys[#keys + 1] = key
    end
  end
  table.sort(keys)
  for _, key in ipairs(keys) do
    parts[#parts + 1] = key .. " = " .. M.text(value[key])
  end
  return "{ " .. table.concat(parts, ", ") .. " }"
end

local function line(rule, find)
  local others = find.others and #find.others > 0 and " [" .. table.concat(find.others, ", ") .. "]" or ""
  return ("%s %s %s%s"):format(find.rule or rule, find[1], find[2], others)
end

local function lines(rule, finds)
  local list = {}
  for i, find in ipairs(finds) do
    list[i] = line(rule, find)
  end
  table.sort(list)
  return list
end

local function text_of(rule, found, wanted)
  for _, find in ipairs(found) do
    if line(rule, find) == line(rule, wanted) and find.text == wanted.text then
      return nil
    end
  end
  for _, find in ipairs(found) do
    if line(rule, find) == line(rule, wanted) then
      return ("  text: %s\n  not:  %s"):format(find.text, wanted.text)
    end
  end
end

-- Run one case. `check(rules, text, before)` gives a list like `finds`, or nil and what went wrong. Returns what is wrong, or nil.
local function judge(rule, case, check)
  local before = case.before
  if type(before) == "table" then
    before = "return " .. M.text(before)
  end
  local found, trouble = check(case.rules or { rule }, "return " .. M.text(case.show), before)
  if not found then
    return "  " .. trouble
  end
  local have, want = table.concat(lines(rule, found), "\n  "), table.concat(lines(rule, case.finds), "\n  ")
  if have ~= want then
    return ("  found:\n  %s\n  expected:\n  %s"):format(have, want)
  end
  for _, find in ipairs(case.finds) do
    local wrong = find.text and text_of(rule, found, find)
    if wrong then
      return wrong
    end
  end
end

--- Run the cases of one rule. Returns how many there are, how many find something, how many are silent, and what is wrong.
function M.run(rule, cases, check)
  local wrong, findings, silent = {}, 0, 0
  for _, case in ipairs(cases) do
    local trouble = judge(rule, case, check)
    if trouble then
      wrong[#wrong + 1] = rule .. ": " .. case.says .. "\n" .. trouble
    end
    findings, silent = findings + (#case.finds > 0 and 1 or 0), silent + (#case.finds == 0 and 1 or 0)
  end
  return #cases, findings, silent, table.concat(wrong, "\n")
end

return M
