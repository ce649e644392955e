--- Lights each fixture in turn, asks the crew whether it answers, and records what they say.
-- Safe: a fixture is lit once, for at least 0.5 s, and the next one takes over in the same frame. So no cell, fixture or site
-- changes more than three times in any second, which is at most one and a half flashes; three are allowed.
-- @kind sequence
-- @usage rigcall run courtyard.show.lua each-answers --live --if eth0 --where 'site=court; tag=rail'
-- @output 8 fixtures in turn, not counting the answers: 16 s.
-- @output fixture 101 Rail 1: white on all 12 cells?

local lights = use("lights")

local function question(f, word)
  local cells = f:cells()
  return ("%s%s?"):format(word, cells > 1 and (" on all %d cells"):format(cells) or "")
end

return {
  kind = "sequence", name = "each-answers",
  about = "each fixture in turn lights; the crew says whether it answers, and that is recorded",
  params = {
    hold = { "number", unit = "s", min = 0.5, max = 60, default = 2, help = "how long a fixture is lit before the question" },
    level = { "number", unit = "%", min = 1, max = 100, default = 50, help = "how bright" },
    colour = { "choice", choices = { "white", "red", "green", "blue" }, default = "white",
      help = "what to show; a fixture without it shows white or what it has" },
  },
  run = function(p)
    local list, missing = lights.taking_part(), {}
    lights.announce(lights.count(#list, "fixture") .. " in turn, not counting the answers", #list * p.hold)
    for _, f in ipairs(list) do
      local look, word = lights.look(f, p.colour, p.level)
      out.set(f, look)
      wait(p.hold)
      if crew.ask(f, question(f, word)) == "no" then missing[#missing + 1] = f end
      out.clear(f)
    end
    wait(0)
    if #missing > 0 then
      crew.say(("Does not answer as it should: %s (%s)."):format(lights.count(#missing, "fixture"), lights.ids(missing)))
    end
  end,
}
