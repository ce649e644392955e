--- Fades each colour parameter up and down in turn on all fixtures, so that one wrong patch or dead emitter stands out.
-- Safe: one colour is up at a time and is faded, never cut. A colour takes two fades of at least 0.5 s each, so every cell,
-- fixture and site makes at most one flash a second; three are allowed.
-- @kind sequence
-- @usage rigcall run courtyard.show.lua colour-roll --live --if eth0 --set level=30
-- @output 7 colours on 22 fixtures: 37 s.
-- @output red: 14 fixtures

local lights = use("lights")

return {
  kind = "sequence", name = "colour-roll",
  about = "each colour parameter in turn fades up and down on all fixtures",
  params = {
    fade = { "number", unit = "s", min = 0.5, max = 60, default = 1.5, help = "length of each fade up and each fade down" },
    hold = { "number", unit = "s", min = 0, max = 600, default = 2, help = "how long each colour stays" },
    level = { "number", unit = "%", min = 1, max = 100, default = 50, help = "how bright" },
    rounds = { "integer", min = 1, max = 20, default = 1, help = "how often to go through the colours" },
  },
  run = function(p)
    local list = lights.taking_part(function(f) return #lights.colours_of(f) > 0 end, "no colours")
    local used, having = {}, {}
    for _, name in ipairs(lights.colours) do
      local those = {}
      for _, f in ipairs(list) do
        if f:has(name) then those[#those + 1] = f end
      end
      if #those > 0 then
        used[#used + 1] = name
        having[name] = those
      end
    end
    local turn = 2 * p.fade + p.hold
    lights.announce(("%s on %s"):format(lights.count(#used, "colour"), lights.count(#list, "fixture")),
      p.fade + p.rounds * #used * turn)

    -- Whatever the defaults are, start with every colour out and only then bring the intensities up, in the dark.
    for _, f in ipairs(list) do
      local dark = {}
      for _, name in ipairs(lights.colours_of(f)) do dark[name] = 0 end
      out.fade(f, dark, p.fade)
    end
    wait(p.fade)
    for _, f in ipairs(list) do
      if f:has("intensity") then out.set(f, { intensity = p.level }) end
    end
    for _ = 1, p.rounds do
      for _, name in ipairs(used) do
        crew.say(("%s: %s"):format(lights.spoken(name), lights.count(#having[name], "fixture")))
        for _, f in ipairs(having[name]) do
          out.fade(f, { [name] = f:has("intensity") and 100 or p.level }, p.fade)
        end
        wait(p.fade + p.hold)
        for _, f in ipairs(having[name]) do out.fade(f, { [name] = 0 }, p.fade) end
        wait(p.fade)
      end
    end
  end,
}
