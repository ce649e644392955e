"""A small invented rig, sequences for it, and the levels they must give: computed here, in rational numbers, from the commands
alone. It shares no line with the engine; the formulas are those the script API promises (scripts/README.md):
  frame k is at k / rate; a command at time t is in the first frame at or after t; the last command for a slot wins;
  a fade has from + (to - from) * (t - t0) / d at time t, and exactly `to` from t0 + d on; over a running fade it starts from its
  value at that moment; 8-bit level = floor(p * 255 / 100 + 1/2), 16-bit likewise with 65535.
"""
import bisect
import random
from fractions import Fraction
from math import ceil, floor

NAME = "Conformance Quay"
HALF = Fraction(1, 2)

# (parameter, fine, default in per cent); Fraction texts are exact.
HEAD = [("pan", False, "50"), ("pan", True, None), ("zoom", False, "37.5")]
SLOTS = [("intensity", False, None), ("red", False, None), ("green", False, None)]
TAIL = [("iris", False, "100"), ("control", False, None), ("control", True, None)]
CELLS = 3

UNIVERSES = {1: (1, 100), 2: (513, 150), 3: (63999, 0)}            # id: (wire number, priority)
FIXTURES = {11: (1, 1), 12: (1, 201), 13: (2, 498), 14: (3, 256)}   # id: (universe, start address); 13 ends at slot 512


def layout():
    """The slots of a fixture: (parameter, cell from 1 or None, fine, default)."""
    slots = [(param, None, fine, default) for param, fine, default in HEAD]
    for cell in range(1, CELLS + 1):
        slots += [(param, cell, fine, default) for param, fine, default in SLOTS]
    return slots + [(param, None, fine, default) for param, fine, default in TAIL]


LAYOUT = layout()


def lua_slots(slots):
    texts = []
    for param, fine, default in slots:
        name = '"%s%s"' % (param, "+fine" if fine else "")
        texts.append("{ %s, default = %s }" % (name, default) if default else name)
    return "{ " + ", ".join(texts) + " }" if texts else "{}"


def show_text(name=NAME, host=None):
    """The show file. With a host, universe 1 is carried by a transmitter that takes unicast there."""
    transmitters = """
  transmitters = { { id = "T1", site = "quay", radios = 1, airs = { "single" }, air = "single", code = "40718263", host = "%s",
                     input = "unicast", lanes = { { lane = 1, universe = 1 } } } },""" % host if host else ""
    universes = ", ".join('{ id = %d, label = "U%d", priority = %d, wire = %d }' % (key, key, priority, wire)
                          for key, (wire, priority) in sorted(UNIVERSES.items()))
    fixtures = ", ".join('{ id = %d, name = "F%d", type = "spot", mode = "cells", site = "quay", universe = %d, address = %d }'
                         % (key, key, universe, address) for key, (universe, address) in sorted(FIXTURES.items()))
    return """return {
  rigcall = 1, name = "%s",
  sites = { { id = "quay" } },
  types = { { id = "spot", name = "Spot of three cells",
              modes = { { id = "cells", head = %s, cells = %d, slots = %s, tail = %s } } } },%s
  universes = { %s },
  fixtures = { %s },
}
""" % (name, lua_slots(HEAD), CELLS, lua_slots(SLOTS), lua_slots(TAIL), transmitters, universes, fixtures)


class Command:
    """kind: "set", "fade" (with seconds), "clear", "slot". Times, levels and seconds are decimal texts, exact in Fraction."""

    def __init__(self, at, kind, fixture=None, cell=None, param=None, level=None, seconds=None, universe=None, slot=None):
        self.at, self.kind = Fraction(at), kind
        self.fixture, self.cell, self.param, self.level, self.seconds = fixture, cell, param, level, seconds
        self.universe, self.slot = universe, slot

    def lua(self):
        whom = "f%s%s" % (self.fixture, ":cell(%d)" % self.cell if self.cell else "")
        if self.kind == "set":
            return "out.set(%s, { %s = %s })" % (whom, self.param, self.level)
        if self.kind == "fade":
            return "out.fade(%s, { %s = %s }, %s)" % (whom, self.param, self.level, self.seconds)
        if self.kind == "clear":
            return "out.clear(%s)" % whom
        return "out.slot(%d, %d, %s)" % (self.universe, self.slot, self.level)


def sequence_text(commands, end):
    lines = ['return { kind = "sequence", name = "conformance", about = "Commands with levels that a test knows.",',
             "run = function()"]
    lines += ['  local f%d = rig.get("fixture", %d)' % (key, key) for key in sorted(FIXTURES)]
    now = Fraction(0)
    for command in commands:
        if command.at > now:
            lines.append("  wait(%s)" % decimal(command.at - now))
            now = command.at
        lines.append("  " + command.lua())
    lines += ["  wait(%s)" % decimal(Fraction(end) - now), "end }", ""]
    return "\n".join(lines)


def decimal(value):
    """A fraction whose denominator divides 10^6, as exact decimal text."""
    micro = value * 10**6
    assert micro.denominator == 1
    return "%d.%06d" % divmod(micro.numerator, 10**6)


class Value:
    """What one slot does over time, in per cent: a list of fades; a set is a fade of 0 s."""

    def __init__(self, default):
        self.default, self.pieces = default, [(Fraction(-1), default, default, Fraction(0))]

    def at(self, time):
        """The later of two commands at one time wins, and begins where the earlier had got to."""
        start, come_from, to, seconds = self.pieces[bisect.bisect_right(self.pieces, time, key=lambda piece: piece[0]) - 1]
        if time >= start + seconds:
            return to
        return come_from + (to - come_from) * (time - start) / seconds

    def command(self, at, to, seconds):
        self.pieces.append((at, self.at(at), to, seconds))


def octet(percent, form):
    if form == "8":
        return floor(percent * 255 / 100 + HALF)
    value = floor(percent * 65535 / 100 + HALF)
    return value >> 8 if form == "high" else value & 255


class Expected:
    """The 512 levels of every universe at every frame of a list of commands."""

    def __init__(self, commands, rate):
        self.rate = Fraction(rate)
        self.slots = {}               # (universe id, slot from 1): (Value, form, fixture, cell, parameter)
        for fixture, (universe, address) in FIXTURES.items():
            for index, (param, cell, fine, default) in enumerate(LAYOUT):
                coarse = index + 1 < len(LAYOUT) and LAYOUT[index + 1][0] == param and LAYOUT[index + 1][2]
                percent = Fraction((LAYOUT[index - 1][3] if fine else default) or 0)
                form = "low" if fine else "high" if coarse else "8"
                self.slots[universe, address + index] = (Value(percent), form, fixture, cell, param)
        for command in commands:
            self.take(command)

    def take(self, command):
        for place, (value, _, fixture, cell, param) in self.slots.items():
            if command.kind == "slot":
                if place == (command.universe, command.slot):
                    value.command(command.at, Fraction(command.level), Fraction(0))
            elif fixture == command.fixture and command.cell in (None, cell):
                if command.kind == "clear":
                    value.command(command.at, value.default, Fraction(0))
                elif param == command.param:
                    value.command(command.at, Fraction(command.level), Fraction(command.seconds or 0))

    def first_frame_at(self, time):
        return ceil(Fraction(time) * self.rate)

    def levels(self, universe, frame):
        return self.octets(universe, lambda value: value.at(frame / self.rate))

    def defaults(self, universe):
        return self.octets(universe, lambda value: value.default)

    def octets(self, universe, percent_of):
        octets = bytearray(512)
        for (home, slot), (value, form, *_) in self.slots.items():
            if home == universe:
                octets[slot - 1] = octet(percent_of(value), form)
        return bytes(octets)


DARK = ["pan", "zoom", "iris", "control"]        # parameters that give no light, so that the flash limit does not look at them


def made_up_commands(number, seconds, seed):
    """Random commands, the same for the same seed: sets and fades that cut one another short, between frames and on them, with
    slow fades of light, which no flash limit minds."""
    chance = random.Random(seed)
    commands = []
    for _ in range(number):
        on_a_frame = chance.random() < 0.5
        at = Fraction(chance.randrange(seconds * 40), 40) if on_a_frame else Fraction(chance.randrange(seconds * 1000), 1000)
        level = "%d.%02d" % divmod(chance.randrange(10001), 100)
        fixture = chance.choice([11, 12, 13])
        kind = chance.choice(["set", "fade", "fade"])
        duration = "%d.%03d" % (chance.randrange(4), chance.randrange(1000)) if kind == "fade" else None
        commands.append(Command(at, kind, fixture=fixture, param=chance.choice(DARK), level=level, seconds=duration))
    for second in range(0, seconds, 2):
        fixture, cell = chance.choice([11, 12, 13]), chance.choice([None, 1, 2, 3])
        param, level = chance.choice(["intensity", "red", "green"]), "%d" % chance.randrange(101)
        commands.append(Command(second, "fade", fixture=fixture, cell=cell, param=param, level=level, seconds="1.9"))
    return sorted(commands, key=lambda command: command.at)
