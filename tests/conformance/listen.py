"""What `rigcall listen` hears in a network namespace of its own, from sources built here from the sample packets of
tests/sacn/samples and the offsets of ANSI E1.31-2018 Tables 4-1 and 4-3, not by this project's code.

Expected: who sends what is known because it is sent here; clauses beside the checks.
usage: listen.py RIGCALL        (makes a network namespace; skipped where it cannot)
"""
import ctypes
import json
import os
import socket
import subprocess
import sys
import tempfile
import threading
import unittest

import tshark

SAMPLES = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "sacn", "samples")
CID, NAME, PRIORITY, SEQUENCE, OPTIONS, UNIVERSE = 22, 44, 108, 111, 112, 113     # Table 4-1
CLONE_NEWUSER, CLONE_NEWNET = 0x10000000, 0x40000000
SHOW = """return { rigcall = 1, name = "Pier", sites = { { id = "pier" } },
  types = { { id = "lamp", modes = { { id = "m", head = { "intensity" }, cells = 0, slots = {}, tail = {} } } } },
  universes = { { id = 1, label = "Rail", wire = 101 }, { id = 2, wire = 102 }, { id = 3, wire = 103 } },
  fixtures = { { id = 1, type = "lamp", mode = "m", site = "pier", universe = 1, address = 1 },
    { id = 2, type = "lamp", mode = "m", site = "pier", universe = 2, address = 1 } } }
"""


def sample(name):
    with open(os.path.join(SAMPLES, name), encoding="ascii") as file:
        return bytearray(bytes.fromhex(file.read()))


class Source:
    """Sends to its universes 40 times a second until it is stopped."""

    def __init__(self, name, cid, priority, universes, announces=(), drop=0):
        self.packet = sample("data.hex")
        self.packet[CID:CID + 16] = bytes([cid]) * 16
        self.packet[NAME:NAME + 64] = name.encode().ljust(64, b"\0")
        self.packet[PRIORITY] = priority
        self.universes, self.announces, self.drop = universes, announces, drop
        self.socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.socket.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
        self.over = threading.Event()
        self.thread = threading.Thread(target=self.run)
        self.thread.start()

    def announce(self):
        """Table 4-3, from the empty sample: lengths and the list."""
        packet = sample("discovery-empty.hex") + b"".join(u.to_bytes(2, "big") for u in self.announces)
        packet[CID:CID + 16], packet[NAME:NAME + 64] = self.packet[CID:CID + 16], self.packet[NAME:NAME + 64]
        for at in (16, 38, 112):
            packet[at:at + 2] = (0x7000 | len(packet) - at).to_bytes(2, "big")
        self.socket.sendto(packet, ("239.255.250.214", 5568))            # 9.3.1 of 64214

    def run(self):
        count = 0
        while not self.over.wait(0.025):
            if self.announces and count % 20 == 0:
                self.announce()
            self.packet[SEQUENCE] = count & 255
            count += 1
            if self.drop and count % self.drop == 0:
                continue
            for universe in self.universes:
                self.packet[UNIVERSE:UNIVERSE + 2] = universe.to_bytes(2, "big")
                self.socket.sendto(self.packet, (tshark.group(universe), 5568))

    def stop(self):
        self.over.set()
        self.thread.join()
        self.socket.close()


def enter_namespace():
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.unshare(CLONE_NEWNET) != 0 and libc.unshare(CLONE_NEWUSER | CLONE_NEWNET) != 0:
        return False
    return subprocess.run(["ip", "link", "set", "lo", "up"], check=False).returncode == 0 and \
        subprocess.run(["ip", "route", "add", "239.0.0.0/8", "dev", "lo"], check=False).returncode == 0


class Listen(unittest.TestCase):
    def setUp(self):
        self.sources = []
        self.folder = tempfile.TemporaryDirectory()
        self.show = os.path.join(self.folder.name, "pier.show.lua")
        with open(self.show, "w", encoding="utf-8") as file:
            file.write(SHOW)

    def tearDown(self):
        for source in self.sources:
            source.stop()
        self.folder.cleanup()

    def source(self, *given, **named):
        self.sources.append(Source(*given, **named))

    def listen(self, *words, status):
        result = subprocess.run([RIGCALL, "listen", *words, "--if", "lo"], stdin=subprocess.DEVNULL, capture_output=True, text=True,
                                check=False)
        self.assertEqual(result.returncode, status, result.stdout + result.stderr)
        return result.stdout

    def heard(self, *words, status):
        lines = [json.loads(line) for line in self.listen(*words, "--once", status=status).splitlines()]
        universes = {line["universe"]: line for line in lines if line["kind"] == "universe"}
        faults = {(line["fault"], line["universe"]): line for line in lines if line["kind"] == "fault"}
        self.assertEqual(lines[-1]["kind"], "state")
        self.assertEqual(lines[-1]["faults"], len(faults))
        return universes, faults, lines[-1]

    def test_a_show_whose_universes_are_all_sent_is_clean(self):
        self.source("Desk", 1, 100, [101, 102])
        universes, faults, state = self.heard(self.show, status=0)
        self.assertEqual(list(universes), [101, 102])
        self.assertEqual(faults, {})
        source = universes[101]["sources"][0]
        self.assertEqual((universes[101]["id"], universes[101]["label"], universes[101]["priority"]), (1, "Rail", 100))
        self.assertEqual((source["name"], source["address"], source["cid"]), ("Desk", "127.0.0.1", "01010101-0101-0101-0101-010101010101"))
        self.assertEqual((source["state"], source["wins"], source["slots"], source["missing"]), ("live", True, 512, 0))
        self.assertEqual((state["fails"], state["bad"], state["dropped"]), (0, {}, 0))

    def test_who_is_missing_who_rivals_and_who_is_unknown(self):
        self.source("Desk", 1, 100, [101, 9], announces=[9, 101])
        self.source("Backup", 2, 90, [101])
        universes, faults, _ = self.heard(self.show, status=1)
        self.assertEqual(set(faults), {("silent", 102), ("unknown", 9)})           # 103 has no fixtures
        self.assertEqual(faults["unknown", 9]["text"], 'universe 9: source "Desk" at 127.0.0.1 sends it, but the show does not know it')
        self.assertEqual([(s["name"], s["wins"]) for s in universes[101]["sources"]], [("Desk", True), ("Backup", False)])     # 6.2.3
        self.source("Second desk", 3, 100, [101])
        universes, faults, _ = self.heard(self.show, status=1)
        self.assertIn(("rival", 101), faults)
        self.assertEqual(universes[101]["winners"], 2)

    def test_lost_packets_are_counted(self):
        self.source("Desk", 1, 100, [7], drop=10)
        universes, faults, _ = self.heard("--universe", "7", status=0)
        source = universes[7]["sources"][0]
        # Nine of ten arrive; the ends of the time may cut one off.
        self.assertLessEqual(abs(source["packets"] - 9 * source["missing"]), 9)
        self.assertGreater(source["missing"], 5)
        self.assertEqual(set(faults), {("missing", 7)})

    def test_malformed_packets_are_counted_and_never_a_source(self):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
            over = threading.Event()

            def flood():
                packets = [b"", b"x" * 1500, sample("data.hex")[:125], sample("data.hex") + b"x"]
                for universe in (0, 64000):                          # reserved, 9.1.1
                    packets.append(sample("data.hex"))
                    packets[-1][UNIVERSE:UNIVERSE + 2] = universe.to_bytes(2, "big")
                while not over.wait(0.01):
                    for packet in packets:
                        sender.sendto(packet, (tshark.group(7), 5568))
            thread = threading.Thread(target=flood)
            thread.start()
            universes, faults, state = self.heard("--universe", "7", status=0)
            over.set()
            thread.join()
        self.assertEqual((universes, faults), ({}, {}))
        self.assertGreater(sum(state["bad"].values()), 100)

    def findings(self, *words, status):
        result = subprocess.run([RIGCALL, "check", self.show, *words, "--format", "json"], stdin=subprocess.DEVNULL, capture_output=True,
                                text=True, check=False)
        self.assertEqual(result.returncode, status, result.stdout + result.stderr)
        report = json.loads(result.stdout)
        return report["rules"], [(f["rule"], f["severity"], f["subject"]["id"], f["text"]) for f in report["findings"]
                                 if f["rule"].startswith("wire-")]

    def test_rules_about_the_network(self):
        self.source("Desk", 1, 100, [101], announces=[101, 102])
        self.source("Old desk", 2, 100, [101])
        rules, findings = self.findings("--live", "--if", "lo", status=1)
        self.assertEqual([rule for rule in rules if rule.startswith("wire-")], ["wire-name", "wire-present", "wire-rate", "wire-rival"])
        self.assertEqual(findings, [
            ("wire-present", "fail", 2, 'nobody sends it, though source "Desk" announces it'),
            ("wire-rival", "fail", 1, '2 sources send it at priority 100: "Desk" at 127.0.0.1, "Old desk" at 127.0.0.1')])
        self.sources.pop().stop()
        self.source("Desk", 3, 90, [101, 102], drop=10)                    # another CID, one of ten packets missing
        _, findings = self.findings("--live", "--if", "lo", "--seconds", "4", status=0)
        self.assertEqual([(rule, severity, subject) for rule, severity, subject, _ in findings], [
            ("wire-name", "warn", 1), ("wire-rate", "warn", 1), ("wire-rate", "warn", 2), ("wire-rival", "note", 2)])
        rules, findings = self.findings(status=0)
        self.assertEqual([rule for rule in rules if rule.startswith("wire-")], [])         # without --live

    def test_a_table_for_people(self):
        self.source("Desk", 1, 100, [101])
        text = self.listen(self.show, "--once", "--format", "text", status=1)
        lines = text.splitlines()
        self.assertEqual(lines[0], "FAIL universe 2 (wire number 102): nobody sends it")
        self.assertEqual(lines[1], "universe  of the show           priority  rate/s  jitter  missing  role     source")
        self.assertRegex(lines[2], r'^     101  1 Rail                     100    \d\d\.\d  +\d+\.\d        0  wins     "Desk" at 127\.0\.0\.1$')
        self.assertRegex(lines[3], r"^3\.\d s: 1 universe heard, 1 fail, 0 warnings, 0 notes$")


if __name__ == "__main__":
    RIGCALL = os.path.abspath(sys.argv.pop(1))
    if not enter_namespace():
        print("skipped: no network namespace can be made here")
        sys.exit(77)
    unittest.main()
