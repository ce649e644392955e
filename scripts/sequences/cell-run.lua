--- Lights the cells of each fixture one after another, so that a dead cell or a wrong cell mode is seen as a gap in the run.
-- Safe: a step lasts at least 0.5 s and the next cell takes over in the same frame. So no cell, fixture or site changes more
-- than three times in any second, which is at most one and a half flashes; three are allowed.
-- @kind sequence
-- @usage rigcall run courtyard.show.lua cell-run --live --if eth0 --where type=batten12 --set step=1
-- @output 8 fixtures at once, up to 12 cells: 12 s.

local lights = use("lights")

-- What a fixture needs besides its cells (an intensity in front of them, say), and what each of its cells shows.
local function looks(f, level)
  local cell = lights.look(f:cell(1), "white", level)
  local around = {}
  for name, value in pairs(lights.look(f, "white", level)) do
    if not f:cell(1):has(name) then around[name] = value end
  end
  -- With the intensity in front of the cells, a cell has full colour and the intensity sets how bright it is.
  if around.intensity then cell = lights.all_at(cell, 100) end
  return around, cell
end

return {
  kind = "sequence", name = "cell-run",
  about = "the cells of each fixture light one after another",
  params = {
    step = { "number", unit = "s", min = 0.5, max = 60, default = 0.5, help = "how long each cell is lit" },
    level = { "number", unit = "%", min = 1, max = 100, default = 50, help = "how bright" },
    together = { "boolean", default = true, help = "all fixtures at once; false: one fixture after another" },
    rounds = { "integer", min = 1, max = 20, default = 1, help = "how often each fixture runs through its cells" },
  },
  run = function(p)
    local list = lights.taking_part(function(f) return f:cells() > 0 and lights.lights(f:cell(1)) end, "no cells that light")
    local longest, all = 0, 0
    for _, f in ipairs(list) do
      longest = math.max(longest, f:cells())
      all = all + f:cells()
    end
    lights.announce(("%s %s, up to %s"):format(lights.count(#list, "fixture"), p.together and "at once" or "in turn",
      lights.count(longest, "cell")), (p.together and longest or all) * p.rounds * p.step)

    local groups = p.together and { list } or {}
    if not p.together then
      for i, f in ipairs(list) do groups[i] = { f } end
    end
    for _, group in ipairs(groups) do
      local last = 0
      local around, cell = {}, {}
      for _, f in ipairs(group) do
        around[f.id], cell[f.id] = looks(f, p.level)
        last = math.max(last, f:cells())
        out.set(f, lights.all_at(lights.look(f, "white", 0), 0))          -- a default need not be 0
        if next(around[f.id]) then out.set(f, around[f.id]) end
      end
      for step = 0, p.rounds * last - 1 do
        local n = step % last + 1
        for _, f in ipairs(group) do
          local before = n == 1 and last or n - 1
          if step > 0 and before <= f:cells() then out.set(f:cell(before), lights.all_at(cell[f.id], 0)) end
          if n <= f:cells() then out.set(f:cell(n), cell[f.id]) end
        end
        wait(p.step)
      end
      for _, f in ipairs(group) do out.clear(f) end
    end
    wait(0)
  end,
}
