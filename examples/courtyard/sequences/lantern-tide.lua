--- A slow tide of light through the fixtures from left to right: each starts a moment after its neighbour.
-- Learn from it: positions, start() for tracks that run side by side, and fades instead of sets. In a test it shows at once
-- when two lanterns have swapped places, because the tide then steps back.
-- Safe: a wave takes two fades of at least 1 s for each fixture, so none makes more than one flash in a second, and because
-- fixtures follow one another the mean of the site changes slower still.
-- @kind sequence
-- @usage rigcall run examples/courtyard/courtyard.show.lua examples/courtyard/sequences/lantern-tide.lua --where tag=lanterns
-- @output tide over 8 fixtures, 2 waves

local lights = use("lights")

return {
  kind = "sequence", name = "lantern-tide",
  about = "a slow tide of light from left to right",
  params = {
    fade = { "number", unit = "s", min = 1, max = 30, default = 2, help = "length of each fade up and down" },
    lag = { "number", unit = "s", min = 0, max = 10, default = 0.7, help = "how much later each next fixture starts" },
    waves = { "integer", min = 1, max = 100, default = 2, help = "how many waves" },
    level = { "number", unit = "%", min = 1, max = 100, default = 60, help = "how bright" },
  },
  run = function(p)
    local list = lights.taking_part()
    table.sort(list, function(a, b)
      local ax, bx = a.pos and a.pos.x or 0, b.pos and b.pos.x or 0
      if ax ~= bx then return ax < bx end
      return a.id < b.id
    end)
    crew.say(("tide over %s, %s"):format(lights.count(#list, "fixture"), lights.count(p.waves, "wave")))
    for i, f in ipairs(list) do
      start(function()
        local up = lights.look(f, "white", p.level)
        local down = lights.all_at(up, 0)
        wait((i - 1) * p.lag)
        for _ = 1, p.waves do
          out.fade(f, up, p.fade)
          wait(p.fade)
          out.fade(f, down, p.fade)
          wait(p.fade)
        end
      end)
    end
    wait((#list - 1) * p.lag + p.waves * 2 * p.fade)
  end,
}
