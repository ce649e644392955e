#!/usr/bin/env python3
"""Made-up sequences of several tracks, played dry: every level of every frame, every word and the end come when they must.

The order and the times of the tracks are found here, from what scripts/README.md promises of start, wait, settle, now and
crew.ask; the levels that follow are those of tests/conformance/rig.py, in rational numbers. What is compared is the trace.
"""
import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "conformance"))
import rig  # noqa: E402
from rig import Command, decimal  # noqa: E402

RATES = ("40", "44", "25", "30", "1")
FIXTURES = (11, 12, 13)
# Slots of one octet that give no light, so that the flash limit does not look at them: zoom and iris.
SINGLE = [(universe, address + offset) for fixture, (universe, address) in sorted(rig.FIXTURES.items())
          for offset, (param, *_) in enumerate(rig.LAYOUT) if fixture in FIXTURES and param in ("zoom", "iris")]


class Maker:
    """A random body: a list of (what, arguments); the body of a track or of a loop is a list of its own."""

    def __init__(self, seed):
        self.r = random.Random(f"rigcall tracks {seed}")
        self.tracks = 0

    def seconds(self, most=2500):
        """A third between frames, a third on frames of 40 Hz, a third so coarse that tracks meet."""
        step = self.r.choice((1, 25, 200))
        return Fraction(self.r.randrange(most // step + 1) * step, 1000)

    def command(self):
        kind = self.r.choice(("set", "fade", "fade", "fade", "clear", "slot"))
        level = "%d.%02d" % divmod(self.r.randrange(10001), 100)
        if kind == "slot":
            universe, slot = self.r.choice(SINGLE)
            return {"kind": kind, "universe": universe, "slot": slot, "level": level}
        named = {"kind": kind, "fixture": self.r.choice(FIXTURES)}
        if kind != "clear":
            named.update(param=self.r.choice(rig.DARK), level=level)
        if kind == "fade":
            named["seconds"] = decimal(self.r.choice((Fraction(0), self.seconds(), self.seconds())))
        return named

    def body(self, depth, length):
        lines = []
        for _ in range(length):
            what = self.r.choice(("command",) * 5 + ("wait",) * 4 + ("pass", "settle", "say", "ask", "start", "loop"))
            if what == "command":
                lines.append((what, self.command()))
            elif what == "wait":
                lines.append((what, self.seconds(800)))
            elif what == "start" and depth < 3 and self.tracks < 12:
                self.tracks += 1
                lines.append((what, self.body(depth + 1, self.r.randrange(1, 9))))
            elif what == "loop" and depth < 3:
                lines.append((what, (self.r.randrange(2, 5), self.body(3, self.r.randrange(1, 4)))))
            elif what in ("pass", "settle", "say", "ask"):
                lines.append((what, None))
        return lines


def lua(body, indent):
    """The body as Lua."""
    pad, lines = "  " * indent, []
    for what, argument in body:
        if what == "command":
            lines.append(pad + Command(0, **argument).lua())
        elif what == "wait":
            lines.append(pad + f"wait({decimal(argument)})")
        elif what == "pass":
            lines.append(pad + "wait(0)")
        elif what == "settle":
            lines.append(pad + "settle()")
        elif what == "say":
            lines.append(pad + 'crew.say(("%.6f"):format(now()))')
        elif what == "ask":
            lines.append(pad + 'crew.say((crew.ask(f11, "Is it so?")))')
        elif what == "start":
            lines += [pad + "start(function()", lua(argument, indent + 1), pad + "end)"]
        else:
            lines += [pad + f"for _ = 1, {argument[0]} do", lua(argument[1], indent + 1), pad + "end"]
    return "\n".join(lines)


def sequence_text(body):
    fixtures = "\n".join(f'  local f{key} = rig.get("fixture", {key})' for key in FIXTURES)
    head = 'return { kind = "sequence", name = "tracks", about = "Several tracks.", run = function()'
    return f"{head}\n{fixtures}\n{lua(body, 1)}\nend }}\n"


class Player:
    """Plays a body: which commands are given when and in which order, and what is said."""

    def __init__(self, body):
        self.commands, self.events, self.fades, self.end = [], [], {}, Fraction(0)
        self.waiting, self.started = [], 0
        self.begin(body, Fraction(0), 0)
        while self.waiting:
            self.waiting.sort(key=lambda entry: entry[:3])
            due, turn, order, track = self.waiting.pop(0)
            self.end = self.now = due
            self.turn = turn
            try:
                until = next(track)
            except StopIteration:
                continue
            # Whoever waits for nothing lets all others of the moment go first.
            self.waiting.append((until, turn + 1 if until == due else 0, order, track))

    def begin(self, body, now, turn):
        self.waiting.append((now, turn, self.started, self.run(body)))
        self.started += 1

    def run(self, body):
        for what, argument in body:
            if what == "command":
                self.command(argument)
            elif what == "wait":
                yield self.now + argument
            elif what == "pass":
                yield self.now
            elif what == "settle":
                while self.settled() > self.now:
                    yield self.settled()
            elif what == "say":
                self.events.append(("say", self.now, f"{float(self.now):.6f}"))
            elif what == "ask":
                self.events += [("ask", self.now, "Is it so?"), ("answer", self.now, "skip"), ("say", self.now, "skip")]
            elif what == "start":
                self.begin(argument, self.now, self.turn)
            else:
                for _ in range(argument[0]):
                    yield from self.run(argument[1])

    def command(self, argument):
        """Keep it, and until when it fades each slot: a later command for a slot ends a fade of it."""
        self.commands.append(Command(self.now, **argument))
        until = self.now + Fraction(argument.get("seconds", 0))
        for fixture, (universe, address) in rig.FIXTURES.items():
            for offset, (param, *_) in enumerate(rig.LAYOUT):
                place = (universe, address + offset)
                if place == (argument.get("universe"), argument.get("slot")) \
                        or (fixture == argument.get("fixture") and argument.get("param", param) == param):
                    self.fades[place] = until

    def settled(self):
        return max(self.fades.values(), default=self.now)


def expected_lines(player, rate):
    """What the trace must hold: words and questions in their order, and the slots that change in each frame."""
    levels = rig.Expected(player.commands, rate)
    last, changes = levels.first_frame_at(player.end), {}
    for universe in rig.UNIVERSES:
        before = bytes(512)
        for frame in range(last + 2):
            now = levels.levels(universe, frame) if frame <= last else levels.defaults(universe)
            slots = [[slot + 1, now[slot]] for slot in range(512) if now[slot] != before[slot]]
            if slots or frame == 0:
                changes[universe, frame] = slots
            before = now
    return player.events + [("end", player.end, "done")], changes


def traced_lines(path):
    """The same of a trace."""
    events, changes = [], {}
    with open(path, encoding="utf-8") as file:
        for line in map(json.loads, file):
            if "slots" in line:
                changes[line["universe"], line["frame"]] = line["slots"]
            elif line["event"] != "start":
                words = next(line[key] for key in ("result", "answer", "question", "text") if key in line)
                events.append((line["event"], line["t"], words))
    return events, changes


def differences(body, rate, trace):
    player = Player(body)
    events, changes = expected_lines(player, rate)
    got_events, got_changes = traced_lines(trace)
    wanted = [(event, float(time), words) for event, time, words in events]
    for place, (want, got) in enumerate(zip(wanted + [None], got_events + [None])):
        if want != got:
            yield f"event {place}: {want} expected, found {got}"
            break
    for key in sorted(set(changes) | set(got_changes)):
        if changes.get(key) != got_changes.get(key):
            yield f"universe, frame {key}: {changes.get(key)} expected, found {got_changes.get(key)}"
            break


def check(program, folder, seed):
    body, rate = Maker(seed).body(0, 14), RATES[seed % len(RATES)]
    show, sequence, trace = (os.path.join(folder, f"{seed}{ending}") for ending in (".show.lua", ".lua", ".trace"))
    Path(show).write_text(rig.show_text(), encoding="utf-8")
    Path(sequence).write_text(sequence_text(body), encoding="utf-8")
    done = subprocess.run([program, "run", show, sequence, "--dry", "--rate", rate, "--trace", trace],
                          capture_output=True, text=True, check=False)
    if done.returncode != 0:
        return [f"seed {seed}: status {done.returncode}: {done.stderr.strip()}"]
    return [f"seed {seed}, {rate} Hz: {line}" for line in differences(body, rate, trace)]


def main():
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("program")
    options.add_argument("--first", type=int, default=1, help="the first seed")
    options.add_argument("--sequences", type=int, default=40, help="how many seeds")
    options.add_argument("--keep", help="write the files here and leave them")
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as scratch, ThreadPoolExecutor(os.cpu_count()) as pool:
        seeds = range(given.first, given.first + given.sequences)
        results = pool.map(lambda seed: check(given.program, given.keep or scratch, seed), seeds)
        wrong = [line for lines in results for line in lines]
    print("\n".join(wrong + [f"{given.sequences} sequences, {len(wrong)} differences"]))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
