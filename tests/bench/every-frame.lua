--- Changes every universe in every frame: half of all slots fade, one of them a 16-bit value. A load, not a test of a rig.
-- @kind sequence
return {
  name = "every-frame", kind = "sequence", about = "Changes every universe in every frame.",
  params = {
    seconds = { "number", unit = "s", min = 1, max = 600, default = 10, help = "how long" },
    step = { "number", unit = "s", min = 0, max = 600, default = 0, help = "new fades this often; 0: one fade for all the time" },
  },
  run = function(p)
    local step = p.step > 0 and p.step or p.seconds
    local up = true
    while now() < p.seconds do
      local level = up and 100 or 0
      for f in rig.fixtures{} do out.fade(f, { pan = level, intensity = level, red = level }, step) end
      up = not up
      wait(step)
    end
  end,
}
