"""What `rigcall listen` and a rule read from npm sacn 4.6.2, in a network namespace of its own.

What that package gets wrong stays out: it cannot send priority 0, and all its sources have one CID. Levels: slot n at n mod 101 per
cent, which the package turns into octets by rounding n * 2.55 in floating point (its source).
usage: npm_sender.py RIGCALL NPM-FOLDER
"""
import json
import math
import os
import subprocess
import sys
import tempfile
import unittest

import listen
import tshark

HERE = os.path.dirname(os.path.abspath(__file__))
RULE = """return { kind = "rule", name = "levels", about = "says the levels of universe 101", run = function()
  local list = {}
  for slot = 1, 512 do list[slot] = ("%d"):format(math.floor(rig.wire.level(101, slot) * 255 / 100 + 0.5)) end
  for first = 1, 512, 64 do print(table.concat(list, " ", first, first + 63)) end end }
"""


class NpmSender(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.show, self.rule = (os.path.join(self.folder.name, name) for name in ("pier.show.lua", "levels.lua"))
        for path, text in (self.show, listen.SHOW), (self.rule, RULE):
            with open(path, "w", encoding="utf-8") as file:
                file.write(text)
        self.node = subprocess.Popen(["node", os.path.join(HERE, "npm_sender.js"), NPM, "Node desk", "120", "101", "102"],
                                     stdin=subprocess.PIPE)

    def tearDown(self):
        self.node.communicate()
        self.folder.cleanup()

    def run_program(self, *words):
        return subprocess.run([RIGCALL, *words, "--if", "lo"], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)

    def test_its_sources_are_heard_as_they_are(self):
        result = self.run_program("listen", self.show, "--once", "--seconds", "4")
        self.assertEqual(result.returncode, 0, result.stdout + result.stderr)
        universes = {line["universe"]: line for line in map(json.loads, result.stdout.splitlines()) if line["kind"] == "universe"}
        self.assertEqual(sorted(universes), [101, 102])
        for universe in universes.values():
            source, = universe["sources"]
            self.assertEqual((source["name"], source["priority"], source["address"], source["slots"], source["wins"], source["missing"]),
                             ("Node desk", 120, "127.0.0.1", 512, True, 0))
            self.assertGreater(source["packets"], 40)

    def test_its_levels_arrive_octet_for_octet(self):
        result = self.run_program("check", self.show, "--live", "--seconds", "4", "--rules", self.rule, "--only", "levels")
        self.assertEqual(result.returncode, 0, result.stdout + result.stderr)
        lines = [line.split(": ", 1)[1] for line in result.stderr.splitlines() if line.startswith("levels: ")]
        self.assertEqual([int(octet) for octet in " ".join(lines).split()], [math.floor(slot % 101 * 2.55 + 0.5) for slot in range(1, 513)])


if __name__ == "__main__":
    RIGCALL, NPM = os.path.abspath(sys.argv.pop(1)), os.path.abspath(sys.argv.pop(1))
    tshark.need("node")
    if not os.path.isdir(os.path.join(NPM, "node_modules", "sacn")):
        tshark.skip("npm sacn is not installed in " + NPM)
    if not listen.enter_namespace():
        tshark.skip("no network namespace can be made here")
    unittest.main()
