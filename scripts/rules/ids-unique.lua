--- Fails objects of one kind that share an id.
-- Everything that names such an id (a lane, a plan, a filter) finds only the first of them. One finding an id: the first
-- object is the subject, the others are its `others` (at most 20 are listed). Modes are judged within their type, which
-- is the subject.
-- @kind rule
-- @reads sites, types, transmitters, universes, fixtures: id
-- @usage rigcall check harbour.show.lua --only ids-unique
-- @output fail ids-unique fixture 101 Rail 1: id 101 is also that of fixture 101 Rail 9: give each an id of its own
local OTHERS = 20

-- The ids that more than one object has, in the order in which they repeat, and the objects of each.
local function repeated_ids(each)
  local times, order, objects = {}, {}, {}
  for object in each() do
    local id = object.id
    times[id] = (times[id] or 0) + 1
    if times[id] == 2 then
      order[#order + 1] = id
      objects[id] = {}
    end
  end
  if #order > 0 then
    for object in each() do
      local list = objects[object.id]
      if list then
        list[#list + 1] = object
      end
    end
  end
  return order, objects
end

local function judge(each)
  local order, objects = repeated_ids(each)
  for _, id in ipairs(order) do
    local first, others, count = objects[id][1], {}, #objects[id] - 1
    for i = 1, math.min(count, OTHERS) do
      others[i] = objects[id][i + 1]
    end
    local more = count > 1 and (" and %d more"):format(count - 1) or ""
    finding(first, ("id %s is also that of %s%s: give each an id of its own"):format(id, tostring(others[1]), more), others)
  end
end

local function judge_modes(type)
  local times = {}
  for _, mode in ipairs(type.modes) do
    times[mode] = (times[mode] or 0) + 1
    if times[mode] == 2 then
      finding(type, ("two of its modes have the id %s: give each an id of its own"):format(mode))
    end
  end
end

return {
  kind = "rule",
  name = "ids-unique",
  about = "two objects of one kind share an id",
  severity = "fail",
  run = function()
    judge(rig.sites)
    judge(rig.types)
    judge(rig.transmitters)
    judge(rig.universes)
    judge(rig.fixtures)
    for type in rig.types() do
      judge_modes(type)
    end
  end,
}
