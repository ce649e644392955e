"""What `rigcall listen` hears in a network namespace of its own, from sources built here from the sample packets of
tests/sacn/samples and the offsets of ANSI E1.31-2018 Tables 4-1 and 4-3, not by this project's code.

Expected: who sends what is known because it is sent here; clauses beside the checks.
usage: listen.py RIGCALL        (makes a network namespace; skipped where it cannot)
"""
import ctypes
import fcntl
import json
import os
import pty
import re
import signal
import socket
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import unittest
import xml.etree.ElementTree

import tshark

SAMPLES = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "sacn", "samples")
CID, NAME, PRIORITY, SEQUENCE, OPTIONS, UNIVERSE = 22, 44, 108, 111, 112, 113     # Table 4-1
PREVIEW, TERMINATED = 0x80, 0x40                          # bits of the options, 6.2.6
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

    def __init__(self, name, cid, priority, universes, announces=(), drop=0, options=0, ends=0, every_s=0.025):
        self.packet = sample("data.hex")
        self.packet[CID:CID + 16] = bytes([cid]) * 16
        self.packet[NAME:NAME + 64] = name.encode().ljust(64, b"\0")
        self.packet[PRIORITY], self.packet[OPTIONS] = priority, options
        self.universes, self.announces, self.drop, self.ends, self.every_s = universes, announces, drop, ends, every_s
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
        while not self.over.wait(self.every_s) and not (self.ends and count > self.ends):
            if self.announces and count % 20 == 0:
                self.announce()
            self.packet[SEQUENCE] = count & 255
            count += 1
            if self.ends and count > self.ends:
                self.packet[OPTIONS] |= TERMINATED
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


    # ---- the same sentences ----

    def test_the_rules_say_what_listen_says(self):
        self.source("Desk", 1, 100, [101], announces=[101, 103])
        self.source("Desk", 2, 100, [101], drop=10)                        # a rival, of the same name, losing packets
        self.source("", 3, 90, [101])
        self.source("Racer", 4, 120, [102], every_s=0.005)
        self.source("Planner", 5, 100, [103], options=PREVIEW)
        self.source("Going", 6, 100, [104], ends=40)
        show = os.path.join(self.folder.name, "many.show.lua")
        universes = ", ".join("{ id = %d, wire = %d }" % (i, 100 + i) for i in range(1, 8))
        fixtures = ", ".join('{ id = %d, type = "lamp", mode = "m", site = "pier", universe = %d, address = 1 }' % (i, i) for i in range(1, 8))
        carrier = '{ id = "T1", site = "pier", radios = 1, airs = { "single" }, air = "single", host = "10.0.0.20", input = "unicast", ' \
            'lanes = { { lane = 1, universe = 7 } } }'
        with open(show, "w", encoding="utf-8") as file:
            file.write(re.sub(r"universes = .*", "transmitters = { %s }, universes = { %s }, fixtures = { %s } }" % (carrier, universes, fixtures),
                              SHOW, flags=re.S))
        quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
        listening = subprocess.Popen([RIGCALL, "listen", show, "--once", "--seconds", "4", "--if", "lo"], **quiet)
        checking = subprocess.Popen([RIGCALL, "check", show, "--live", "--seconds", "4", "--if", "lo", "--format", "json"], **quiet)
        lines = [json.loads(line) for line in listening.communicate()[0].splitlines()]
        report = json.loads(checking.communicate()[0])
        said = {(line["severity"], line["text"].split(": ", 1)[1]) for line in lines if line["kind"] == "fault"}
        found = {(line["severity"], line["text"]) for line in report["findings"] if line["rule"].startswith("wire-")}

        def forms(sentences):                    # both count for themselves: all but the numbers is the same
            return sorted((severity, re.sub(r"\d+(\.\d+)?", "N", text)) for severity, text in sentences)
        self.assertEqual(forms(said), forms(found))
        self.assertEqual({fault["fault"] for fault in lines if fault["kind"] == "fault"},
                         {"silent", "rival", "priority", "rate", "missing", "name"})
        silent = {line["universe"]: line["text"].split(": ", 1)[1] for line in lines if line.get("fault") == "silent"}
        self.assertEqual(silent[103], 'nobody sends it; source "Planner" at 127.0.0.1 sends preview data only, which is not put out')
        self.assertRegex(silent[104], r'^nobody sends it any more; source "Going" at 127\.0\.0\.1 ended it \d\.\d s ago$')
        self.assertEqual((silent[105], sorted(silent)), ("nobody sends it", [103, 104, 105, 106, 107]))
        self.assertEqual(silent[107], "it is not heard; transmitter T1 takes it by unicast at 10.0.0.20, which no other host hears")

    # ---- exit statuses and messages ----

    def assert_ends(self, words, status, error, **named):
        result = subprocess.run([RIGCALL, *words], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False, **named)
        self.assertEqual((result.returncode, result.stderr), (status, "rigcall: %s\n" % error if error else ""), words)
        return result.stdout

    def test_exit_statuses(self):
        bad = os.path.join(self.folder.name, "bad.show.lua")
        with open(bad, "w", encoding="utf-8") as file:
            file.write("return {")
        missing = os.path.join(self.folder.name, "none.show.lua")
        away = os.path.join(self.folder.name, "no", "such")
        quick = ["--seconds", "0.1", "--if", "lo"]
        self.source("Desk", 1, 100, [101, 102])
        self.assert_ends(["listen", self.show, "--once", "--if", "lo"], 0, "")
        self.assert_ends(["listen", self.show, "--once", "--universe", "103", *quick], 0,
                         "listening for 0.1 s only: a universe is called silent after 2.5 s")
        self.sources.pop().stop()
        self.assert_ends(["listen", self.show, "--once", "--if", "lo"], 1, "")
        for words, error in (
                (["--once", "--every", "1"], "listen: --once and --every exclude each other"),
                (["-o", "x"], "listen: -o needs --once"),
                (["--universe", "0"], 'listen: --universe: "0": universes are 1 to 63999, the lower one first'),
                (["--universe", "64000"], 'listen: --universe: "64000": universes are 1 to 63999, the lower one first'),
                (["--universe", "7-3"], 'listen: --universe: "7-3": universes are 1 to 63999, the lower one first'),
                (["--universe", "99999999999999999999"], 'listen: --universe: "99999999999999999999": universes are 1 to 63999, the lower one first'),
                (["--universe", "a"], 'listen: --universe: "a": expected a number or a range a-b'),
                (["--seconds", "nan"], 'listen: --seconds: "nan", expected a number from 0.1 to 86400; rigcall listen --help explains'),
                (["--port", "0"], 'listen: --port: "0", expected a whole number from 1 to 65535; rigcall listen --help explains'),
                (["--if", "lo"] * 9, "listen: --if is given more than 8 times")):
            self.assert_ends(["listen", *words], 2, error)
        self.assert_ends(["listen", missing, "--once"], 3, missing + ": cannot open: No such file or directory")
        self.assertEqual(subprocess.run([RIGCALL, "listen", bad], capture_output=True, check=False).returncode, 3)
        self.assert_ends(["listen", "--once", "-o", away, *quick], 3, "%s: cannot write a new file beside it: No such file or directory" % away)
        self.assert_ends(["listen", "--once", "-o", "/dev/full", *quick], 3, "/dev/full: No space left on device")
        self.assert_ends(["listen", "--once", "--if", "nosuch"], 4, "there is no interface 'nosuch'")
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as holder:
            holder.bind(("0.0.0.0", 5568))                                 # without sharing it
            self.assert_ends(["listen", "--once", "--if", "lo"], 4, "cannot listen on port 5568: binding it (does another program hold "
                             "the port for itself?): Address already in use")

    def test_an_output_that_nobody_reads_ends_it(self):
        for out, status, error in ("pipe", 0, b""), ("/dev/full", 3, b"rigcall: cannot write to standard output: No space left on device\n"):
            reading, writing = os.pipe() if out == "pipe" else (None, os.open(out, os.O_WRONLY))
            if reading is not None:
                os.close(reading)
            result = subprocess.run([RIGCALL, "listen", "--universe", "1", "--if", "lo", "--every", "0.1"], stdin=subprocess.DEVNULL,
                                    stdout=writing, stderr=subprocess.PIPE, check=False)
            os.close(writing)
            self.assertEqual((result.returncode, result.stderr), (status, error))

    def begin(self, *words):
        """Start it, and wait until it has joined the group of universe 101 (/proc/net/igmp: octets in host order)."""
        process = subprocess.Popen([RIGCALL, *words, "--if", "lo"], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, text=True)
        joined = False
        while not joined and process.poll() is None:
            with open("/proc/net/igmp", encoding="ascii") as file:
                joined = "%08X" % struct.unpack("=I", socket.inet_aton(tshark.group(101))) in file.read()
        return process

    def test_an_interrupt_ends_it(self):
        process = self.begin("listen", self.show, "--once", "--seconds", "600")
        process.send_signal(signal.SIGTERM)
        out, error = process.communicate()
        self.assertEqual((process.returncode, out), (1, "") if error else (-signal.SIGTERM, ""))     # before it watches signals: killed
        if error:
            self.assertRegex(error, r"^rigcall: listen: stopped after \d+\.\d of 600 s, so there is no report\n$")
        process = subprocess.Popen([RIGCALL, "listen", "--universe", "101", "--if", "lo", "--every", "0.1"], stdin=subprocess.DEVNULL,
                                   stdout=subprocess.PIPE, text=True)
        process.stdout.readline()
        process.send_signal(signal.SIGINT)
        lines = process.communicate()[0].splitlines()
        self.assertEqual((process.returncode, json.loads(lines[-1])["kind"]), (0, "state"))

    def test_a_page_fits_the_terminal(self):
        self.source("A desk with quite a long name, \u706f\u706f", 1, 100, list(range(101, 140)))
        control, terminal = pty.openpty()
        fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 12, 40, 0, 0))
        process = subprocess.Popen([RIGCALL, "listen", self.show, "--if", "lo", "--seconds", "3", "--every", "0.5"],
                                   stdin=subprocess.DEVNULL, stdout=terminal, stderr=subprocess.DEVNULL)
        os.close(terminal)
        text = b""
        try:
            while piece := os.read(control, 65536):
                text += piece
        except OSError:                          # how Linux ends a terminal that nobody holds
            pass
        os.close(control)
        self.assertEqual(process.wait(), 0)
        pages = text.decode().split("\033[H\033[J")[1:]
        self.assertGreaterEqual(len(pages), 2)
        for page in pages:
            lines = re.sub(r"\033\[\d*m", "", page).splitlines()
            self.assertLessEqual(sum(max(1, -(-len(line) // 40)) for line in lines), 12, page)
        self.assertRegex(pages[-1], r"and \d+ more lines")

    def test_a_link_that_goes_down_is_said(self):
        link = subprocess.run(["ip", "link", "add", "rcear", "type", "veth", "peer", "name", "rcfar"], stderr=subprocess.DEVNULL, check=False)
        if link.returncode != 0:
            self.skipTest("no pair of interfaces can be made here")
        for name in "rcear", "rcfar":
            subprocess.run(["ip", "link", "set", name, "up"], check=True)
        process = subprocess.Popen([RIGCALL, "listen", "--universe", "101", "--if", "rcear", "--every", "0.1"], stdin=subprocess.DEVNULL,
                                   stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)

        def until(words):
            while not (warning := json.loads(process.stdout.readline())["warning"]).endswith(words):
                pass
            return warning
        self.assertNotIn("rcear", until(""))
        for name, to, words in (("rcfar", "down", "interface rcear has no link (is the cable in?)"), ("rcear", "down", "interface rcear is down")):
            subprocess.run(["ip", "link", "set", name, to], check=True)
            until(words)
        self.assert_ends(["listen", "--once", "--if", "rcear"], 4, "interface rcear is down")
        subprocess.run(["ip", "link", "del", "rcear"], check=True)
        until("interface rcear is gone")
        process.send_signal(signal.SIGINT)
        process.communicate()
        self.assertEqual(process.returncode, 0)
        self.assert_ends(["listen", "--once", "--if", "rcear"], 4, "there is no interface 'rcear'")

    # ---- check --live ----

    def test_a_broken_rule_stops_no_other(self):
        rules = os.path.join(self.folder.name, "mine")
        os.mkdir(rules)
        for name, text in ("breaks", "local w = rig.wire.universe(0)"), ("counts", 'warn(rig.get("universe", 1), rig.wire.universe(101).sources[1].name)'):
            with open(os.path.join(rules, name + ".lua"), "w", encoding="utf-8") as file:
                file.write('return { kind = "rule", name = "%s", about = "x", run = function() %s end }' % (name, text))
        self.source("Desk", 1, 100, [101])
        given = ["check", self.show, "--live", "--if", "lo", "--rules", rules, "--only", "breaks,counts,wire-present"]
        result = subprocess.run([RIGCALL, *given, "--format", "json"], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
        report = json.loads(result.stdout)
        self.assertEqual((result.returncode, report["rules"]), (5, ["counts", "wire-present"]))
        self.assertEqual([(f["rule"], f["text"]) for f in report["findings"]], [("counts", "Desk"), ("wire-present", "nobody sends it")])
        self.assertIn("wire numbers are 1 to 63999", result.stderr)
        result = subprocess.run([RIGCALL, *given, "--format", "junit"], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
        suite = xml.etree.ElementTree.fromstring(result.stdout)
        cases = {case.get("name"): [kind.tag for kind in case] for case in suite.iter("testcase")}
        self.assertEqual(result.returncode, 5)
        self.assertEqual([name for name in cases if "error" in cases[name]], ["breaks"])
        self.assertEqual([name for name in cases if "failure" in cases[name]], ["wire-present"])

    # ---- floods ----

    def test_a_hostile_flood_is_counted_and_bounded(self):
        self.source("Desk", 1, 200, [101, 102])
        process = subprocess.Popen([RIGCALL, "listen", self.show, "--if", "lo", "--seconds", "5"], stdin=subprocess.DEVNULL,
                                   stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        flood = Flood()
        lines = []
        peak_kib = 0
        for line in process.stdout:
            lines.append(json.loads(line))
            if lines[-1]["kind"] == "state":
                peak_kib = max(peak_kib, high_water(process.pid))
        process.stdout.close()
        usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(usage[1])
        flood.stop()
        states = [line for line in lines if line["kind"] == "state"]
        last = states[-1]
        cpu_s = usage[2].ru_utime + usage[2].ru_stime
        print("flood: %d datagrams sent, %d taken, %d dropped, %d reports, %.2f s CPU, VmHWM %d KiB" % (flood.sent,
              last["data"] + last["sync"] + last["discovery"] + sum(last["bad"].values()), last["dropped"], len(states), cpu_s, peak_kib))
        self.assertEqual(process.returncode, 0)                            # the desk's priority wins both universes
        self.assertGreaterEqual(len(states), 2)
        self.assertGreaterEqual(len(last["bad"]), 5, last["bad"])
        self.assertGreater(last["turned_away"], 1000)
        ours = [line for line in lines if line["kind"] == "universe" and line["universe"] == 101][-1]
        self.assertEqual([source["name"] for source in ours["sources"] if source["wins"]], ["Desk"])
        self.assertLessEqual(len(ours["sources"]), 16)
        self.assertLessEqual(last["announcers"], 256)
        self.assertLessEqual(last["groups"], 4096 + 4)
        changed = [source for line in lines if line["kind"] == "universe" for source in line["sources"] if source["name_changes"] > 10]
        self.assertTrue(changed)
        with open(RIGCALL, "rb") as file:
            sanitized = b"__asan_init" in file.read()
        if not sanitized:
            self.assertLess(peak_kib, MOST_KIB)


# sacn_table_bound() of the default limits, 36.2 MiB; 10,000 faults of 824 octets, twice while their list grows, 15.8 MiB; and 12 MiB
# for the program, its libraries and what malloc() adds.
MOST_KIB = 64 * 1024


def high_water(pid):
    try:
        with open("/proc/%d/status" % pid, encoding="ascii") as file:
            return next((int(line.split()[1]) for line in file if line.startswith("VmHWM:")), 0)
    except OSError:
        return 0


class Flood:
    """As fast as it can, from 64 addresses: a new CID in every packet, names that change, packets that are none, and discovery
    that lies."""

    def __init__(self):
        self.sockets = []
        for i in range(64):
            self.sockets.append(socket.socket(socket.AF_INET, socket.SOCK_DGRAM))
            self.sockets[-1].bind(("127.0.1.%d" % (i + 1), 0))
            self.sockets[-1].setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
        self.sent, self.over = 0, threading.Event()
        self.thread = threading.Thread(target=self.run)
        self.thread.start()

    def packets(self, count):
        stranger = sample("data.hex")
        stranger[CID:CID + 16] = count.to_bytes(16, "big")
        for universe in 101 + count % 2, count * 7 % 63999 + 1:            # the group need not be that of the universe
            stranger[UNIVERSE:UNIVERSE + 2] = universe.to_bytes(2, "big")
            yield 101, stranger
        renamed = sample("data.hex")
        renamed[CID:CID + 16], renamed[SEQUENCE] = b"\x99" * 16, count & 255
        renamed[NAME:NAME + 64] = (b"\xff\x1b[2J\xe2\x82%d" % count).ljust(64, b"\0")
        renamed[UNIVERSE:UNIVERSE + 2] = (102).to_bytes(2, "big")
        yield 102, renamed
        for at, value in ((18, 5), (40, 3), (117, 1), (0, 0x11), (4, 0)):          # vectors and preambles, Tables 4-1 and 5-1
            wrong = sample("data.hex")
            wrong[at] = value
            yield 101, wrong
        for universe in (0, 64000):
            wrong = sample("data.hex")
            wrong[UNIVERSE:UNIVERSE + 2] = universe.to_bytes(2, "big")
            yield 101, wrong
        yield 101, sample("data.hex")[:count % 638]
        yield 101, sample("data.hex") + b"\0" * (count % 900)
        liar = sample("discovery-empty.hex") + b"".join(((count * 512 + i) % 63999 + 1).to_bytes(2, "big") for i in range(512))
        liar[CID:CID + 16], liar[118], liar[119] = (count % 500).to_bytes(16, "big"), count % 125, 124       # page and last page, Table 4-3
        for at in (16, 38, 112):
            liar[at:at + 2] = (0x7000 | len(liar) - at).to_bytes(2, "big")
        yield 64214, liar
        liar[16] ^= 1
        yield 64214, liar

    def run(self):
        while not self.over.is_set():
            for universe, packet in self.packets(self.sent):
                self.sockets[self.sent % 64].sendto(packet, (tshark.group(universe), 5568))
                self.sent += 1

    def stop(self):
        self.over.set()
        self.thread.join()
        for each in self.sockets:
            each.close()


if __name__ == "__main__":
    RIGCALL = os.path.abspath(sys.argv.pop(1))
    if not enter_namespace():
        print("skipped: no network namespace can be made here")
        sys.exit(77)
    unittest.main()
