--- Keeps half of all slots fading for a minute: a load, not a test of a rig.
-- @kind sequence
return {
  name = "half-fades", kind = "sequence", about = "Keeps half of all slots fading.",
  params = { seconds = { "number", unit = "s", min = 5, max = 600, default = 60, help = "how long" } },
  run = function(p)
    local step, goal = 5, 0
    local all = {}
    for f in rig.fixtures{} do
      local names = f:params()
      all[#all + 1] = { f = f, names = names }
    end
    while now() < p.seconds do
      goal = (goal + 37) % 101
      for i = 1, #all do
        local e = all[i]
        local half = {}
        for n = 1, (#e.names + 1) // 2 do half[e.names[n]] = (goal + n * 13 + i) % 101 end
        out.fade(e.f, half, step)
      end
      wait(step)
    end
  end,
}
