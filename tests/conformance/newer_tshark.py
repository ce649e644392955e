"""Synchronised dry runs as tshark 4.4 and later decode them: all three packet types, which tshark 4.0.17 cannot. Skipped where the
tshark is older. RIGCALL_TSHARK may name another one with its words ("chroot DIR tshark"); it reads the capture from its input.

Expected: ANSI E1.31-2018 6.2.4.1 and 6.3.3 (synchronisation address), 6.7.2 (sequence numbers of each universe and packet type),
4.3 and 8 (every 10 s, pages of 512 universes, ascending, the synchronisation universe among them), 9.3.1 (groups).
usage: newer_tshark.py RIGCALL
"""
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import unittest
from collections import defaultdict

TSHARK = shlex.split(os.environ.get("RIGCALL_TSHARK", "tshark"))
FIELDS = ["frame.time_epoch", "ip.dst", "acn.protocol_id", "acn.dmx.extension.vector", "acn.dmx.universe", "acn.dmx.seq_number", "acn.dmx.sync",
          "acn.dmx.option_sync", "acn.dmx.option_s", "acn.dmx.sync.universe", "acn.dmx.sync.reserved", "acn.dmx.discovery.page", "acn.dmx.discovery.last_page",
          "acn.dmx.discovery.list", "_ws.malformed", "_ws.expert"]
UNIVERSES, SYNC = 600, 7001
SEQUENCE = """return { kind = "sequence", name = "slow", about = "one fade", run = function()
  for f in rig.fixtures{} do out.fade(f, { intensity = 100 }, 1) end
  wait(12) end }
"""


def skip(reason):
    print("SKIP: " + reason)
    sys.exit(77)


def need_newer():
    if not shutil.which(TSHARK[0]):
        skip(TSHARK[0] + " is not installed")
    text = subprocess.run(TSHARK + ["--version"], capture_output=True, text=True, check=False).stdout
    found = re.search(r"(\d+)\.(\d+)\.\d+", text)
    if not found or (int(found[1]), int(found[2])) < (4, 4):
        skip("this tshark is older than 4.4: " + text.split("\n", 1)[0])


def show():
    universes = "".join("{ id = %d }," % u for u in range(1, UNIVERSES + 1))
    fixtures = "".join('{ id = %d, type = "t", mode = "m", site = "s", universe = %d, address = 1 },' % (u, u) for u in range(1, UNIVERSES + 1))
    return """return { rigcall = 1, name = "Pages", sites = { { id = "s" } },
      types = { { id = "t", modes = { { id = "m", head = { "intensity" }, cells = 0, slots = {}, tail = {} } } } },
      universes = { %s }, fixtures = { %s } }""" % (universes, fixtures)


def decode(path):
    command = TSHARK + ["-r", "-", "-d", "udp.port==5568,acn", "-o", "acn.dmx_enable:TRUE", "-T", "fields"]
    for field in FIELDS:
        command += ["-e", field]
    with open(path, "rb") as capture:
        lines = subprocess.run(command, stdin=capture, capture_output=True, text=True, check=True).stdout.splitlines()
    return [dict(zip(FIELDS, line.split("\t"))) for line in lines]


class Decoded(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        with tempfile.TemporaryDirectory() as folder:
            paths = [os.path.join(folder, name) for name in ("pages.show.lua", "slow.lua", "out.pcap")]
            for path, text in zip(paths, (show(), SEQUENCE)):
                with open(path, "w", encoding="utf-8") as file:
                    file.write(text)
            subprocess.run([RIGCALL, "run", paths[0], paths[1], "--sync", str(SYNC), "--force-sync", "--pcap", paths[2]], check=True,
                           stdout=subprocess.DEVNULL)
            cls.packets = decode(paths[2])
        cls.data = [p for p in cls.packets if p["acn.protocol_id"] == "4"]
        cls.sync = [p for p in cls.packets if p["acn.dmx.extension.vector"] == "1"]
        cls.discovery = [p for p in cls.packets if p["acn.dmx.extension.vector"] == "2"]

    def test_nothing_is_malformed_and_nothing_else_is_sent(self):
        self.assertEqual([p for p in self.packets if p["_ws.malformed"] or p["_ws.expert"]], [])
        self.assertEqual(len(self.packets), len(self.data) + len(self.sync) + len(self.discovery))

    def test_every_universe_counts_for_itself(self):
        numbers = defaultdict(list)
        for packet in self.data:
            numbers[int(packet["acn.dmx.universe"])].append(int(packet["acn.dmx.seq_number"]))
        self.assertEqual(sorted(numbers), list(range(1, UNIVERSES + 1)))
        for sequence in numbers.values():
            self.assertEqual(sequence, [n & 255 for n in range(len(sequence))])

    def test_data_names_the_universe_of_synchronisation(self):
        found = {(p["acn.dmx.option_s"] in ("1", "True"), p["acn.dmx.sync"], p["acn.dmx.option_sync"] in ("1", "True")) for p in self.data}
        # A terminated packet waits for nothing (6.2.6), so it names no universe of synchronisation.
        self.assertEqual(found, {(False, str(SYNC), True), (True, "0", True)})

    def test_one_synchronisation_packet_ends_every_frame_that_sends(self):
        frames = []
        for packet in self.packets:
            if packet in self.discovery:
                continue
            if not frames or frames[-1][0] != packet["frame.time_epoch"]:
                frames.append((packet["frame.time_epoch"], []))
            frames[-1][1].append(packet["acn.protocol_id"])
        for _, kinds in frames:
            self.assertEqual(kinds, ["4"] * (len(kinds) - 1) + ["8"])
            self.assertGreater(len(kinds), 1)
        self.assertEqual([int(p["acn.dmx.seq_number"]) for p in self.sync], [n & 255 for n in range(len(self.sync))])
        self.assertEqual({(p["acn.dmx.sync.universe"], p["acn.dmx.sync.reserved"], p["ip.dst"]) for p in self.sync}, {("7001", "0", "239.255.27.89")})

    def test_universes_are_announced_in_pages_every_ten_seconds(self):
        whole = [p for p in self.discovery if p["acn.dmx.discovery.list"].strip(" ,")]
        at = [round(float(p["frame.time_epoch"])) for p in whole]
        self.assertEqual(at, [0, 0, 10, 10])
        self.assertEqual([(p["acn.dmx.discovery.page"], p["acn.dmx.discovery.last_page"]) for p in whole], [("0", "1"), ("1", "1")] * 2)
        self.assertEqual({p["ip.dst"] for p in self.discovery}, {"239.255.250.214"})
        lists = [[int(n) for n in re.findall(r"\d+", p["acn.dmx.discovery.list"])] for p in whole]
        self.assertEqual([len(numbers) for numbers in lists], [512, 89] * 2)
        self.assertEqual(lists[0] + lists[1], list(range(1, UNIVERSES + 1)) + [SYNC])


if __name__ == "__main__":
    RIGCALL = os.path.abspath(sys.argv.pop(1))
    need_newer()
    unittest.main()
