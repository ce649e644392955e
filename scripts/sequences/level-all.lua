--- Brings everything that lights to one level, keeps it there for a time, and fades out again.
-- The run that empties batteries to see how long they last, or holds a picture while somebody walks the site.
-- Safe: one fade up and one down in the whole run.
-- @kind sequence
-- @usage rigcall run courtyard.show.lua level-all --live --if eth0 --set level=60 --set hold=3600
-- @output 23 fixtures at 60 %: 60 min 4 s.

local lights = use("lights")

return {
  kind = "sequence", name = "level-all",
  about = "everything that lights at one level for a time",
  params = {
    level = { "number", unit = "%", min = 0, max = 100, default = 50, help = "how bright" },
    hold = { "number", unit = "s", min = 0, max = 80000, default = 60, help = "how long it stays" },
    fade = { "number", unit = "s", min = 0, max = 60, default = 2, help = "length of the fade up and of the fade down" },
    colour = { "choice", choices = { "white", "red", "green", "blue" }, default = "white",
      help = "what to show; a fixture without it shows white or what it has" },
  },
  run = function(p)
    local list = lights.taking_part()
    lights.announce(("%s at %g %%"):format(lights.count(#list, "fixture"), p.level), 2 * p.fade + p.hold)
    for _, f in ipairs(list) do out.fade(f, lights.look(f, p.colour, p.level), p.fade) end
    wait(p.fade + p.hold)
    for _, f in ipairs(list) do out.fade(f, lights.all_at(lights.look(f, p.colour, p.level), 0), p.fade) end
    wait(p.fade)
  end,
}
