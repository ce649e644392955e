"""A dry run's capture, decoded by tshark 4.0.17, is packet by packet what the commands ask for and what the trace says.

Expected levels: rig.py, in rational numbers from the commands alone. Packets: ANSI E1.31-2018 6.6.2 (three equal copies after a
change, then one every 0.8 to 1 s), 6.7.2 (sequence numbers go up by one a packet), 6.2.6 (three packets with Stream_Terminated).
usage: dry_run.py RIGCALL
"""
import filecmp
import json
import os
import re
import subprocess
import sys
import tempfile
import unittest
import uuid
from fractions import Fraction

import extended
import rig
import tshark
from rig import Command

DRY_SPACE = uuid.UUID("b247e90c-35d8-4f61-a75c-089ed3642f1b")       # src/sacn/sacn_cid.c
KEEP_ALIVE = (Fraction(8, 10), Fraction(1))
EXAMPLE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples", "courtyard", "courtyard.show.lua")

# Fields of every packet; None: by universe or number.
COMMON = {"ip.src": "127.0.0.1", "ip.dst": None, "udp.dstport": "5568", "acn.cid": None, "acn.dmx.priority": None,
          "acn.dmx.seq_number": None, "acn.dmx.options": None, "acn.dmx.reserved": "0", "acn.dmx.count": "513",
          "acn.dmx.start_code2": "0", "ip.checksum.status": "1", "udp.checksum.status": "1"}
END_FRAMES = 4                        # the defaults, and three times Stream_Terminated

# One of everything, each slot at the times that the comments name; no more light than the flash limit allows.
BY_HAND = [
    Command(0, "set", fixture=11, param="pan", level="10"),
    Command(0, "fade", fixture=11, param="intensity", level="100", seconds="2"),
    Command(0, "fade", fixture=12, cell=2, param="red", level="33.3", seconds="1.5"),
    Command("0.01", "set", fixture=12, param="zoom", level="12.5"),                  # between frames 0 and 1
    Command("0.025", "set", fixture=12, param="iris", level="0"),                    # on frame 1
    Command("0.5", "fade", fixture=13, param="pan", level="0", seconds="0.7"),       # 16 bits, down from a default of 50 %
    Command("0.75", "fade", fixture=11, param="intensity", level="0", seconds="3"),  # over a running fade
    Command("0.8", "fade", fixture=13, param="control", level="100", seconds="0"),   # a fade of 0 s is a set
    Command("0.8", "set", fixture=13, param="control", level="66.666"),              # the last command wins
    Command("0.81", "fade", fixture=13, param="pan", level="100", seconds="0.004"),  # shorter than a frame
    Command("1.2", "slot", universe=2, slot=500, level="80"),                        # the zoom of fixture 13
    Command("1.3", "fade", fixture=13, param="zoom", level="20", seconds="1.111"),   # from what the slot was set to
    Command("3", "clear", fixture=12),
    Command("3.013", "fade", fixture=12, param="control", level="99.99", seconds="2.5"),
    Command("8.9", "set", fixture=11, param="zoom", level="1"),                      # after a long pause
    Command("8.9", "fade", fixture=12, param="pan", level="25", seconds="60"),       # still on its way at the end
]


def play(folder, show, sequence, rate, name="a", more=()):
    """Play a sequence dry. Gives the paths of capture and trace."""
    capture, trace = (os.path.join(folder, name + kind) for kind in (".pcap", ".trace"))
    result = subprocess.run([PROGRAM, "run", show, sequence, "--dry", "--rate", rate, "--pcap", capture, "--trace", trace,
                             *more],
                            env=tshark.environment(folder), capture_output=True, text=True, check=False)
    if result.returncode != 0:
        raise AssertionError("status %d\n%s%s" % (result.returncode, result.stdout, result.stderr))
    return capture, trace


def play_commands(folder, commands, end, rate, name="a", more=()):
    show, sequence = (os.path.join(folder, name + kind) for kind in (".show.lua", ".lua"))
    with open(show, "w", encoding="utf-8") as file:
        file.write(rig.show_text())
    with open(sequence, "w", encoding="utf-8") as file:
        file.write(rig.sequence_text(commands, end))
    return play(folder, show, sequence, rate, name, more)


def frame_of(packet, rate):
    """The frame whose time is the packet's; a capture has whole nanoseconds."""
    time = Fraction(packet["frame.time_epoch"])
    frame = round(time * rate)
    if abs(time - Fraction(frame) / rate) > Fraction(1, 10**9):
        raise AssertionError("a packet at %s s, which is no frame of %s Hz" % (packet["frame.time_epoch"], rate))
    return frame


def levels_of_trace(path):
    """{universe: {frame: levels after it}} and the events, from the trace's lines."""
    levels, events, now = {}, [], {}
    with open(path, encoding="utf-8") as file:
        for line in map(json.loads, file):
            if "event" in line:
                events.append(line)
                continue
            octets = now.setdefault(line["universe"], bytearray(512))
            for slot, level in line["slots"]:
                octets[slot - 1] = level
            levels.setdefault(line["universe"], {})[line["frame"]] = bytes(octets)
    return levels, events


def streams_of(capture):
    """The packets of a capture by universe on the wire."""
    streams = {}
    for packet in tshark.decode(capture):
        streams.setdefault(int(packet["acn.dmx.universe"]), []).append(packet)
    return streams


class Traced:
    """Expected levels as a trace tells them, for a sequence whose commands this test does not know."""

    def __init__(self, changes, end_frame):
        self.changes, self.end_frame = changes, end_frame

    def levels(self, universe, frame):
        before = [changed for changed in self.changes[universe] if changed <= frame]
        return self.changes[universe][max(before)]

    def defaults(self, universe):
        return self.levels(universe, self.end_frame)


class DryRun(unittest.TestCase):
    maxDiff = 4000

    def check_commands(self, commands, end, rate, folder):
        capture, trace = play_commands(folder, commands, end, rate)
        expected = rig.Expected(commands, rate)
        self.check(capture, trace, rig.NAME, rig.UNIVERSES, expected, expected.first_frame_at(end), Fraction(rate))

    def check_shipped(self, sequence, rate, folder):
        """Frame by frame, the capture is what the trace says; the defaults follow from the trace's last line."""
        capture, trace = play(folder, EXAMPLE, sequence, rate)
        traced, events = levels_of_trace(trace)
        universes = {entry["universe"]: (entry["wire"], entry["priority"]) for entry in events[0]["universes"]}
        last = max(frame_of(packets[-1], Fraction(rate)) for packets in streams_of(capture).values()) - END_FRAMES
        with open(EXAMPLE, encoding="utf-8") as file:
            name = re.search(r'\bname = "([^"]*)"', file.read()).group(1)
        self.check(capture, trace, name, universes, Traced(traced, last + 1), last, Fraction(rate))

    def check(self, capture, trace, name, universes, expected, last, rate):
        """last: the last frame that shows what was commanded; the end comes in the frames after it."""
        streams = streams_of(capture)
        traced, events = levels_of_trace(trace)
        self.assertEqual(sorted(streams), sorted(wire for wire, _ in universes.values()))
        self.assertEqual(events[0]["event"], "start")
        self.assertEqual((events[-1]["event"], events[-1]["result"]), ("end", "done"))
        for universe, (wire, priority) in universes.items():
            with self.subTest(universe=universe, rate=str(rate)):
                frames = self.check_fields(streams[wire], wire, priority, name, rate)
                self.check_levels(universe, frames, expected, last)
                self.check_pace(universe, [frame for frame, _ in frames[:-END_FRAMES]], expected, last, rate)
                self.check_trace(universe, traced[universe], frames)

    def check_fields(self, packets, wire, priority, name, rate):
        """What every packet of a stream has in common. Gives (frame, levels) of each."""
        cid, frames = str(uuid.uuid5(DRY_SPACE, name)), []
        for number, packet in enumerate(packets):
            terminated = number >= len(packets) - 3
            self.assertEqual({field: packet[field] for field in COMMON}, dict(COMMON, **{
                "ip.dst": tshark.group(wire), "acn.cid": cid, "acn.dmx.priority": str(priority),
                "acn.dmx.seq_number": str(number % 256), "acn.dmx.options": "64" if terminated else "0"}))
            self.assertIn(name, packet["acn.dmx.source_name"])
            frames.append((frame_of(packet, rate), packet["levels"]))
        self.assertEqual(frames[0][0], 0)
        return frames

    def check_levels(self, universe, frames, expected, last):
        for frame, levels in frames[:-END_FRAMES]:
            self.assertLessEqual(frame, last)
            self.assertEqual(levels, expected.levels(universe, frame), "frame %d" % frame)
        for place, (frame, levels) in enumerate(frames[-END_FRAMES:], start=1):
            self.assertEqual(frame, last + place)
            self.assertEqual(levels, expected.defaults(universe), "the end")

    def check_pace(self, universe, sent, expected, last, rate):
        """A packet in every frame that changed, three more, then one every 0.8 to 1 s, and none besides."""
        before, repeats, at = None, 0, 0
        self.assertEqual(len(sent), len(set(sent)))
        sent = set(sent)
        for frame in range(last + 1):
            levels = expected.levels(universe, frame)
            changed, before = levels != before, levels
            repeats = 3 if changed else repeats - 1
            waited = (frame - at) / rate
            if changed or repeats >= 0:
                self.assertIn(frame, sent, "a change or one of three repeats")
            elif frame in sent:
                self.assertTrue(KEEP_ALIVE[0] <= waited <= KEEP_ALIVE[1], "kept alive after %s s" % float(waited))
            else:
                self.assertLess(waited, KEEP_ALIVE[1])
            at = frame if frame in sent else at

    def check_trace(self, universe, traced, frames):
        """The trace has a line for every frame whose levels differ from the frame before, and no other, with the levels sent."""
        sent, before = {}, None
        for frame, levels in frames:
            if levels != before:
                sent[frame] = levels
            before = levels
        self.assertEqual(traced, sent, "trace of universe %d" % universe)

    def test_one_of_everything(self):
        for rate in ("40", "44", "25", "1"):
            with tempfile.TemporaryDirectory() as folder:
                self.check_commands(BY_HAND, "10", rate, folder)

    def test_made_up_commands(self):
        for seed in range(3):
            with tempfile.TemporaryDirectory() as folder:
                self.check_commands(rig.made_up_commands(150, 12, seed), "12.5", "40", folder)

    def test_nothing_commanded(self):
        with tempfile.TemporaryDirectory() as folder:
            self.check_commands([], "5", "40", folder)

    def test_a_unicast_transmitter_gets_its_universe(self):
        with tempfile.TemporaryDirectory() as folder:
            show, sequence = (os.path.join(folder, name) for name in ("a.show.lua", "a.lua"))
            with open(show, "w", encoding="utf-8") as file:
                file.write(rig.show_text(host="10.20.0.11"))
            with open(sequence, "w", encoding="utf-8") as file:
                file.write(rig.sequence_text([], "1"))
            streams = streams_of(play(folder, show, sequence, "40")[0])
        targets = {wire: {packet["ip.dst"] for packet in packets} for wire, packets in streams.items()}
        self.assertEqual(targets, {1: {"10.20.0.11"}, 513: {"239.255.2.1"}, 63999: {"239.255.249.255"}})

    def test_shipped_sequences(self):
        for sequence in ("cell-run", "colour-roll", "each-answers"):
            with tempfile.TemporaryDirectory() as folder, self.subTest(sequence=sequence):
                self.check_shipped(sequence, "40", folder)

    def check_beside(self, capture, wires, end, rate, sync=None):
        """What goes out beside data, octet by octet and in order: after the data of every frame that has any, one synchronisation
        packet; after that, in the first frame at or after every tenth second, the list of universes; at the very end an empty one."""
        data = tshark.decode(capture)
        name = data[0]["acn.dmx.source_name"].encode()
        cid = uuid.uuid5(DRY_SPACE, rig.NAME).bytes
        frames = sorted({frame_of(packet, rate) for packet in data})
        lists = {rig.Expected([], rate).first_frame_at(second) for second in range(0, end + 1, 10)}
        expected, syncs = [], 0
        for frame in sorted(lists | set(frames)):
            if sync and frame in frames:
                expected.append((frame, tshark.group(sync), extended.sync(cid, sync, syncs)))
                syncs += 1
            universes = sorted(set(wires) | ({sync} if sync else set())) if frame in lists else [] if frame == frames[-1] else None
            if universes is not None:
                expected += [(frame, extended.DISCOVERY_GROUP, packet) for packet in extended.discovery(cid, name, universes)]
        found = [(frame_of({"frame.time_epoch": time}, rate), to, octets) for time, to, _, octets in tshark.extended(capture)]
        self.assertEqual(found, expected)

    def test_universes_are_announced(self):
        wires = [wire for wire, _ in rig.UNIVERSES.values()]
        for rate in ("40", "44", "7.3"):
            with tempfile.TemporaryDirectory() as folder, self.subTest(rate=rate):
                capture, _ = play_commands(folder, BY_HAND, "31", rate)
                self.check_beside(capture, wires, 31, Fraction(rate))

    def test_a_synchronised_run(self):
        wires = [wire for wire, _ in rig.UNIVERSES.values()]
        for more in ([], ["--force-sync"]):
            with tempfile.TemporaryDirectory() as folder, self.subTest(more=more):
                capture, _ = play_commands(folder, BY_HAND, "21", "40", more=["--sync", "7001"] + more)
                self.check_beside(capture, wires, 21, Fraction(40), sync=7001)
                for stream in streams_of(capture).values():
                    for place, packet in enumerate(stream):
                        terminated = place >= len(stream) - 3
                        # tshark 4.0.17 calls the synchronisation address reserved. The end is not synchronised: it is acted on at once.
                        self.assertEqual(packet["acn.dmx.reserved"], "0" if terminated else "7001")
                        self.assertEqual(int(packet["acn.dmx.options"]), (0x40 if terminated else 0) | (0x20 if more else 0))

    def test_two_runs_are_equal_octet_for_octet(self):
        with tempfile.TemporaryDirectory() as folder:
            first, second = (play_commands(folder, BY_HAND, "10", "40", name) for name in ("first", "second"))
            for one, other in zip(first, second):
                self.assertTrue(filecmp.cmp(one, other, shallow=False), one + " and " + other)


if __name__ == "__main__":
    tshark.need("tshark")
    PROGRAM = sys.argv.pop()
    unittest.main()
