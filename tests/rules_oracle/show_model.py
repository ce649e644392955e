"""A show as the rules see it: what is judged, which lanes exist, where a fixture lands, what is in reach.

A show is a dict with the keys of a show file. Numbers are int or Decimal, and arithmetic is exact: rounding raises.
"""
import decimal
from collections import defaultdict

for context in (decimal.DefaultContext, decimal.getcontext()):
    context.traps[decimal.Inexact] = True

LISTS = {"site": "sites", "type": "types", "transmitter": "transmitters", "universe": "universes", "fixture": "fixtures"}


class Show:
    """A show with the questions that several rules ask of it."""

    def __init__(self, data):
        self.data = data
        for name in LISTS.values():
            setattr(self, name, data.get(name, []))
        # Where an id is repeated, what names it means the first.
        self.types_by_id, self.modes_by_ids = {}, {}
        for entry in self.types:
            if self.types_by_id.setdefault(entry["id"], entry) is entry:
                for mode in entry["modes"]:
                    self.modes_by_ids.setdefault((entry["id"], mode["id"]), mode)

    def type_of(self, fixture):
        return self.types_by_id.get(fixture["type"])

    def mode_of(self, fixture):
        return self.modes_by_ids.get((fixture["type"], fixture["mode"]))

    def judged(self):
        """The fixtures whose type and mode exist; of any other only the id, the type and the start address are judged."""
        return [fixture for fixture in self.fixtures if self.mode_of(fixture)]

    def footprint(self, fixture):
        mode = self.mode_of(fixture)
        return len(mode.get("head", [])) + mode.get("cells", 0) * len(mode["slots"]) + len(mode.get("tail", []))

    @staticmethod
    def top(transmitter, air=None):
        """The highest lane: one for each radio in single, two in dual."""
        return max(0, transmitter["radios"]) * {"single": 1, "dual": 2}[air or transmitter["air"]]

    def lanes(self, transmitter):
        """Lane -> the universes it is given, for the lanes that exist."""
        given = defaultdict(list)
        for entry in transmitter.get("lanes", []):
            if 1 <= entry["lane"] <= self.top(transmitter):
                given[entry["lane"]].append(entry["universe"])
        return given

    @staticmethod
    def keyed(fixture):
        """Whether code, air mode and lane are keyed in; a fixture marked as wired has no radio settings that count."""
        return not fixture.get("wired") and None not in (fixture.get("code"), fixture.get("air"), fixture.get("lane"))

    def matches(self, fixture):
        """The transmitters on the air whose code, air mode and one of whose lanes are keyed into the fixture."""
        if not self.keyed(fixture):
            return []
        return [transmitter for transmitter in self.transmitters
                if not transmitter.get("spare") and transmitter.get("code") == fixture["code"]
                and transmitter["air"] == fixture["air"] and 1 <= fixture["lane"] <= self.top(transmitter)]

    def lands(self, fixture):
        return [transmitter for transmitter in self.matches(fixture) if in_reach(transmitter, fixture)]

    def transmitter_of(self, fixture):
        """The one it lands on, else the only one whose settings match, else none."""
        lands, matches = self.lands(fixture), self.matches(fixture)
        if len(lands) == 1:
            return lands[0]
        return matches[0] if len(matches) == 1 else None


def squared_distance(a, b):
    """Square metres, or None without both positions."""
    if a.get("pos") is None or b.get("pos") is None:
        return None
    return sum((p - q) ** 2 for p, q in zip(a["pos"], b["pos"]))


def within(square, reach):
    return square <= reach ** 2


def in_reach(transmitter, other):
    square = squared_distance(transmitter, other)
    if square is None or transmitter.get("reach") is None:
        return transmitter["site"] == other["site"]
    return within(square, transmitter["reach"])
