--- Warns of two transmitters with one network address, and of an address outside its site's range.
-- The crew of this show numbers the network by site: quay 10.20.1.x, barge 10.20.2.x, mole 10.20.3.x. Finds nothing as the
-- show stands; change a `host` and see.
-- @kind rule
-- @usage rigcall check examples/harbour/harbour.show.lua --only transmitter-hosts
-- @output warn transmitter-hosts transmitter T2 Quay mast east: 10.20.2.12, but the quay's addresses begin with 10.20.1.

local range = { quay = "10.20.1.", barge = "10.20.2.", mole = "10.20.3." }

return {
  kind = "rule", name = "transmitter-hosts", severity = "warn",
  about = "transmitters whose network address is used twice or not of their site",
  run = function()
    local first = {}
    for t in rig.transmitters{} do
      local start = t.site and range[t.site]
      if t.host and start and t.host:sub(1, #start) ~= start then
        finding(t, ("%s, but the %s's addresses begin with %s"):format(t.host, t.site, start))
      end
      if t.host and first[t.host] then
        finding(first[t.host], ("%s is the address of two transmitters"):format(t.host), { t })
      elseif t.host then
        first[t.host] = t
      end
    end
  end,
}
