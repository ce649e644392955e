--- Fades everything that lights up and down, then each other 16-bit parameter, so that a missing fine slot shows as steps.
-- Parameters that move the fixture, strobes, and slots whose work is not light are never touched.
-- Safe: every change is a fade of at least 0.5 s up and as long down, so at most one flash a second; three are allowed.
-- @kind sequence
-- @usage rigcall run courtyard.show.lua ramp --live --if eth0 --set time=20
-- @output 23 fixtures, then red, green, blue with 16 bits: 2 min 44 s.
-- @output red: 6 fixtures

local lights = use("lights")

-- The 16-bit parameters besides the intensity that may be ramped, with their fixtures.
local function sixteen_bit(list)
  local names, having = {}, {}
  for _, f in ipairs(list) do
    for _, name in ipairs(lights.fine_of(f)) do
      if name ~= "intensity" and (lights.role(name) == "colour" or lights.role(name) == "optics") then
        if not having[name] then
          having[name] = {}
          names[#names + 1] = name
        end
        table.insert(having[name], f)
      end
    end
  end
  return names, having
end

return {
  kind = "sequence", name = "ramp",
  about = "everything that lights fades up and down, then each other 16-bit parameter",
  params = {
    time = { "number", unit = "s", min = 0.5, max = 600, default = 10, help = "length of each fade up and each fade down" },
    hold = { "number", unit = "s", min = 0, max = 600, default = 1, help = "how long it stays at the top" },
    level = { "number", unit = "%", min = 1, max = 100, default = 100, help = "level at the top" },
    rounds = { "integer", min = 1, max = 20, default = 1, help = "how often to go up and down" },
  },
  run = function(p)
    local list = lights.taking_part(function(f) return lights.lights(f) or #sixteen_bit{ f } > 0 end, "nothing to ramp")
    local names, having = sixteen_bit(list)
    local turn = 2 * p.time + p.hold
    local spoken = {}
    for i, name in ipairs(names) do spoken[i] = lights.spoken(name) end
    local more = #names > 0 and (", then %s with 16 bits"):format(table.concat(spoken, ", ")) or ""
    lights.announce(lights.count(#list, "fixture") .. more, p.rounds * turn * (1 + #names))

    local function up_and_down(those, top, bottom)
      for _, f in ipairs(those) do out.fade(f, top(f), p.time) end
      wait(p.time + p.hold)
      for _, f in ipairs(those) do out.fade(f, bottom(f), p.time) end
      wait(p.time)
    end

    -- White on every intensity, or on the colours where there is none. The colours behind an intensity are set in the dark.
    local function white(f) return lights.look(f, "white", p.level) end
    local function dark(f)
      local look = white(f)
      if look.intensity then look.intensity = 0 else look = lights.all_at(look, 0) end
      return look
    end
    local lit = {}
    for _, f in ipairs(list) do
      if lights.lights(f) then
        lit[#lit + 1] = f
        out.set(f, dark(f))
      end
    end
    for _ = 1, p.rounds do up_and_down(lit, white, dark) end

    -- Each other 16-bit parameter. A colour shows by itself: the others of its fixture are out and its intensity is up.
    for _, name in ipairs(names) do
      crew.say(("%s: %s"):format(lights.spoken(name), lights.count(#having[name], "fixture")))
      local colour = lights.role(name) == "colour"
      for _, f in ipairs(having[name]) do
        if colour then
          local alone = {}
          for _, other in ipairs(lights.colours_of(f)) do alone[other] = 0 end
          if f:has("intensity") then alone.intensity = p.level end
          out.set(f, alone)
        end
      end
      local function top(f) return { [name] = colour and f:has("intensity") and 100 or p.level } end
      local function bottom() return { [name] = 0 } end
      for _ = 1, p.rounds do up_and_down(having[name], top, bottom) end
      for _, f in ipairs(having[name]) do
        if colour and f:has("intensity") then out.set(f, { intensity = 0 }) end
      end
    end
    wait(0)
  end,
}
