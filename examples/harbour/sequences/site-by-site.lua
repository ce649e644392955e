--- Fades up one site after another and asks for one answer each: the walk of the hour before doors.
-- Learn from it: rig.sites(), sorting fixtures by site, and one question about many fixtures.
-- Safe: each site makes one fade up and one down, of at least 1 s.
-- @kind sequence
-- @usage rigcall run examples/harbour/harbour.show.lua examples/harbour/sequences/site-by-site.lua --live --if eth0
-- @output North quay: 156 fixtures at 40 %

local lights = use("lights")

return {
  kind = "sequence", name = "site-by-site",
  about = "one site after another fades up; one answer each",
  params = {
    level = { "number", unit = "%", min = 5, max = 100, default = 40, help = "how bright" },
    fade = { "number", unit = "s", min = 1, max = 30, default = 3, help = "length of each fade" },
    hold = { "number", unit = "s", min = 1, max = 600, default = 5, help = "how long a site stays before the crew is asked" },
  },
  run = function(p)
    local of_site, nowhere = {}, {}
    for _, f in ipairs(lights.taking_part()) do
      local list = rig.get("site", f.site) and (of_site[f.site] or {}) or nowhere
      list[#list + 1] = f
      if list ~= nowhere then of_site[f.site] = list end
    end
    lights.say_left_out(nowhere, "on a site that is not in the show")
    for site in rig.sites() do
      local list = of_site[site.id] or {}
      if #list > 0 then
        crew.say(("%s: %s at %g %%"):format(site.name, lights.count(#list, "fixture"), p.level))
        for _, f in ipairs(list) do out.fade(f, lights.look(f, "white", p.level), p.fade) end
        wait(p.fade + p.hold)
        crew.ask(list[1], ("Is all of %s up?"):format(site.name))
        for _, f in ipairs(list) do out.fade(f, lights.all_at(lights.look(f, "white", p.level), 0), p.fade) end
        wait(p.fade)
      end
    end
  end,
}
