"""What npm sacn 4.6.2 receives from a live run on 127.0.0.1 is what the trace of that run says.

What that package gets wrong stays out of the comparison: it reads names as ASCII (the name here is ASCII), its own check of
the order is not 6.7.2, but a stream without a gap passes it, and it takes the two universe discovery packets of a run, at its start
and its end, for corrupt ones. Expected: the trace, and ANSI E1.31-2018 6.2.6, 6.6.2 and 6.7.2.
usage: npm_receiver.py RIGCALL NPM-FOLDER
"""
import json
import os
import socket
import subprocess
import sys
import tempfile
import unittest

import dry_run
import rig
import tshark
from rig import Command

END_UNIVERSE = 63998                  # one that the rig does not have
SAMPLE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "sacn", "samples", "data-preview.hex")
UNIVERSE_OFFSET = 113                 # ANSI E1.31-2018 Table 4-1

COMMANDS = [
    Command(0, "set", fixture=11, param="pan", level="75"),
    Command(0, "fade", fixture=12, param="intensity", level="100", seconds="1"),
    Command("0.3", "fade", fixture=13, param="control", level="88.8", seconds="1.2"),
    Command("1", "set", fixture=11, param="iris", level="50"),
    Command("1.1", "clear", fixture=12),
]
SECONDS = "3.2"
DISCOVERY = 2                         # packets: at 0 s and, without universes, at the end


class Receiver:
    """The Node process. The last packet it is sent comes from here, after the run, so nothing of the run is behind it."""

    def __init__(self, wires):
        script = os.path.join(os.path.dirname(os.path.abspath(__file__)), "npm_receiver.js")
        self.process = subprocess.Popen(["node", script, NPM, str(END_UNIVERSE)] + [str(wire) for wire in wires],
                                        stdout=subprocess.PIPE, text=True)
        # Without any network the package's multicast joins fail, which it says before it listens; this run is unicast.
        lines = (json.loads(line) for line in self.process.stdout)
        self.port = next(line["port"] for line in lines if "port" in line)

    def finish(self):
        with open(SAMPLE, encoding="ascii") as file:
            packet = bytearray(bytes.fromhex(file.read()))
        packet[UNIVERSE_OFFSET:UNIVERSE_OFFSET + 2] = END_UNIVERSE.to_bytes(2, "big")
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.sendto(packet, ("127.0.0.1", self.port))
        lines = [json.loads(line) for line in self.process.communicate()[0].splitlines()]
        if self.process.returncode != 0:
            raise AssertionError("node ended with status %d" % self.process.returncode)
        return lines


def play_live(folder, port):
    show, sequence, trace = (os.path.join(folder, name) for name in ("a.show.lua", "a.lua", "a.trace"))
    with open(show, "w", encoding="utf-8") as file:
        file.write(rig.show_text())
    with open(sequence, "w", encoding="utf-8") as file:
        file.write(rig.sequence_text(COMMANDS, SECONDS))
    words = [PROGRAM, "run", show, sequence, "--live", "--to", "127.0.0.1", "--port", str(port), "--trace", trace, "--answer", "skip"]
    result = subprocess.run(words, env=tshark.environment(folder), capture_output=True, text=True, check=False)
    if result.returncode != 0:
        raise AssertionError("status %d\n%s%s" % (result.returncode, result.stdout, result.stderr))
    return trace


def changes(levels):
    """A list of levels without those that repeat the one before."""
    return [now for before, now in zip([None] + levels, levels) if now != before]


class LiveRun(unittest.TestCase):
    maxDiff = 4000

    def test_received_is_what_the_trace_says(self):
        wires = {universe: wire for universe, (wire, _) in rig.UNIVERSES.items()}
        with tempfile.TemporaryDirectory() as folder:
            receiver = Receiver(wires.values())
            trace = play_live(folder, receiver.port)
            received = receiver.finish()
            traced, events = dry_run.levels_of_trace(trace)
        self.assertEqual([line["trouble"] for line in received if "trouble" in line], ["PacketCorruption"] * DISCOVERY)
        received = [line for line in received if "trouble" not in line]
        self.assertEqual(events[-1]["result"], "done")
        self.assertEqual(len({line["cid"] for line in received}), 1)
        self.assertEqual(received[0]["cid"][12], "5")              # a version 5 UUID
        for universe, wire in wires.items():
            with self.subTest(universe=universe):
                self.check_stream([line for line in received if line["universe"] == wire], universe, traced[universe])

    def check_stream(self, lines, universe, traced):
        self.assertEqual([line["sequence"] for line in lines], [number % 256 for number in range(len(lines))])
        self.assertEqual([line["options"] for line in lines], [0] * (len(lines) - 3) + [0x40] * 3)
        self.assertEqual({line["priority"] for line in lines}, {rig.UNIVERSES[universe][1]})
        self.assertEqual({line["from"] for line in lines}, {"127.0.0.1"})
        self.assertTrue(all(rig.NAME in line["name"] for line in lines))
        levels = [bytes.fromhex(line["levels"]) for line in lines]
        self.assertEqual(changes(levels), [traced[frame] for frame in sorted(traced)])
        defaults = rig.Expected([], 40).defaults(universe)
        self.assertEqual(levels[-4:], [defaults] * 4)
        # Every change is followed by three equal packets at least, unless the next change comes first: 6.6.2.
        self.assertGreaterEqual(len(levels), len(traced) + 3)

    def test_levels_are_those_commanded(self):
        """The levels a live run goes through are those of rig.py, at the frames the trace names."""
        with tempfile.TemporaryDirectory() as folder:
            receiver = Receiver([])
            trace = play_live(folder, receiver.port)
            receiver.finish()
            traced, _ = dry_run.levels_of_trace(trace)
        expected = rig.Expected(COMMANDS, 40)
        last = expected.first_frame_at(SECONDS)
        for universe, frames in traced.items():
            for frame, levels in frames.items():
                wanted = expected.levels(universe, frame) if frame <= last else expected.defaults(universe)
                self.assertEqual(levels, wanted, "universe %d, frame %d" % (universe, frame))


if __name__ == "__main__":
    tshark.need("node")
    NPM, PROGRAM = sys.argv.pop(), sys.argv.pop()
    if not os.path.exists(os.path.join(NPM, "node_modules", "sacn")):
        tshark.skip("npm sacn is not in %s: npm install --prefix %s sacn@4.6.2" % (NPM, NPM))
    unittest.main()
