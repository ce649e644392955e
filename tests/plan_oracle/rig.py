"""A rig in plain Python, and what a swap may do to it: written from the definitions of a swap alone, not from the planner.

Nothing is shared with the C side: landings, clashes, hop channels and costs are computed here again, from scratch.
"""
import copy
import math
from dataclasses import dataclass, field

ROUNDING_M = 1e-9                # a distance this much past a reach counts as at it
CHANNELS = range(2402, 2481)     # one-MHz hop channels
HOPS_MIN = 15                    # 47 CFR 15.247 (a)(1)(iii)
CARRIES = {None: 0, "single": 1, "dual": 2}


@dataclass
class Type:
    id: str
    airs: list
    floor: dict


@dataclass
class Transmitter:
    id: str
    site: str
    pos: tuple
    reach: float
    radios: int
    airs: list
    air: str
    code: str
    spare: bool
    lanes: dict = field(default_factory=dict)       # lane -> universe
    keep_out: list = field(default_factory=list)    # (from, to) in MHz

    def top(self, air):
        return max(self.radios, 0) * CARRIES[air]

    def is_on(self):
        return self.code is not None and not self.spare


@dataclass
class Fixture:
    id: int
    type: str
    site: str
    pos: tuple
    universe: int
    address: int
    code: str
    air: str
    lane: int
    firmware: str

    def key(self):
        return (self.code, self.air, self.lane)


@dataclass
class Show:
    name: str
    sites: list
    quiet: list
    types: dict
    transmitters: list
    universes: list
    fixtures: list

    def copy(self):
        return copy.deepcopy(self)


def within(transmitter, pos, site):
    if transmitter.pos is None or pos is None or transmitter.reach is None:
        return transmitter.site == site
    return math.dist(transmitter.pos, pos) <= transmitter.reach + ROUNDING_M


def in_reach(transmitter, fixture):
    return within(transmitter, fixture.pos, fixture.site)


def too_close(a, b):
    """Two transmitters that must not share a code."""
    return within(a, b.pos, b.site) or within(b, a.pos, a.site)


def numbers(version):
    return [int(part) for part in version.split(".")]


def at_least(version, floor):
    a, b = numbers(version), numbers(floor)
    size = max(len(a), len(b))
    return a + [0] * (size - len(a)) >= b + [0] * (size - len(b))


def air_allowed(show, fixture, air):
    kind = show.types[fixture.type]
    floor = kind.floor.get(air)
    return air in kind.airs and (floor is None or fixture.firmware is None or at_least(fixture.firmware, floor))


def hops(keep_out):
    return sum(1 for c in CHANNELS if not any(low <= c <= high for low, high in keep_out))


def quiet_kept(show, keep_out):
    return all(any(low <= c <= high for low, high in keep_out)
               for a, b in show.quiet for c in CHANNELS if a <= c <= b)


def matches(transmitter, fixture):
    return (transmitter.is_on() and transmitter.code == fixture.code and transmitter.air == fixture.air
            and 1 <= fixture.lane <= transmitter.top(transmitter.air))


def landing(show, fixture):
    """(state, transmitter id): state is unasked, nowhere, twice, empty, other, or right."""
    if fixture.universe is None or fixture.code is None:
        return "unasked", None
    found = [t for t in show.transmitters if matches(t, fixture) and in_reach(t, fixture)]
    if not found:
        return "nowhere", None
    if len(found) > 1:
        return "twice", None
    carried = found[0].lanes.get(fixture.lane)
    if carried is None:
        return "empty", found[0].id
    return ("right" if carried == fixture.universe else "other"), found[0].id


def guessable(code):
    steps = {int(b) - int(a) for a, b in zip(code, code[1:])}
    return steps in ({0}, {1}, {-1})


def well_formed(code):
    return len(code) == 8 and code.isascii() and code.isdigit() and not guessable(code)


@dataclass
class Asked:
    """What the command line says."""
    out: list
    only: list                   # --in; empty: all that remain
    keep_working: bool

    def may_change(self, transmitter):
        return transmitter.id not in self.out and (not self.only or transmitter.id in self.only)


def sort_fixtures(show, asked):
    """Ids of the lost and of the working fixtures, each with the transmitter that it lands on."""
    lost, working = {}, {}
    for fixture in show.fixtures:
        state, where = landing(show, fixture)
        if state == "right":
            (lost if where in asked.out else working)[fixture.id] = where
    return lost, working


def take_off(show, asked):
    """The show with the lost transmitters off the air and nothing else changed."""
    after = show.copy()
    for transmitter in after.transmitters:
        if transmitter.id in asked.out:
            transmitter.code, transmitter.lanes = None, {}
    return after


def carried(show, without=()):
    """universe -> the (transmitter, lane) pairs that carry it, spare ones ignored."""
    found = {}
    for t in show.transmitters:
        if not t.spare and t.id not in without:
            for lane, universe in t.lanes.items():
                found.setdefault(universe, []).append((t.id, lane))
    return found


def places(show, asked, after):
    """The list that settles ties: where each universe of the lost transmitters is afterwards, by rising universe."""
    moved = sorted({u for t in show.transmitters if t.id in asked.out and not t.spare
                    for lane, u in t.lanes.items() if lane <= t.top(t.air)})
    found = carried(after)
    return [(0, found[u][0][0].encode(), found[u][0][1]) if u in found else (1, b"", 0) for u in moved]


@dataclass
class Costs:
    dark: int
    disturbed: int
    touches: int
    settings: int

    def as_tuple(self):
        return (self.dark, self.disturbed, self.touches, self.settings)


def settings_of(before, after):
    lanes = {n for n in {*before.lanes, *after.lanes} if before.lanes.get(n) != after.lanes.get(n)}
    return (before.code != after.code) + (before.air != after.air) + (before.keep_out != after.keep_out) + len(lanes)


def lands_wrong(show, fixture):
    """It would join a lane of another universe (also when it could join two)."""
    return any(matches(t, fixture) and in_reach(t, fixture) and t.lanes.get(fixture.lane) not in (None, fixture.universe)
               for t in show.transmitters)


def judge_transmitter(show, asked, before, after, wrong):
    if before.id in asked.out:
        if after.code is not None or after.lanes:
            wrong.append(f"lost {before.id} is still on the air")
        return
    changed = settings_of(before, after) > 0 or before.spare != after.spare
    if changed and not asked.may_change(before):
        wrong.append(f"{before.id} may not change")
    if not before.spare and after.spare:
        wrong.append(f"{before.id} became a spare")
    if before.spare and not after.spare and not after.lanes:
        wrong.append(f"{before.id} is on without a lane")
    if not changed:
        return
    if any(not 1 <= lane <= after.top(after.air) for lane in after.lanes):
        wrong.append(f"{before.id}: a lane above {after.top(after.air)}")
    if after.air != before.air and after.air not in after.airs:
        wrong.append(f"{before.id} has no air mode {after.air}")
    known = {t.code for t in show.transmitters} | {f.code for f in show.fixtures}
    if after.code != before.code and (after.code is None or not (after.code in known or well_formed(after.code))):
        wrong.append(f"{before.id}: bad code {after.code}")
    gets_lane = any(before.lanes.get(n) != u for n, u in after.lanes.items())
    if gets_lane and after.code is None:
        wrong.append(f"{before.id} gets a lane without a code")
    first = (after.lanes and not before.lanes) or (after.code is not None and before.code is None)
    if first and not quiet_kept(show, after.keep_out):
        wrong.append(f"{before.id} leaves a quiet band open")
    if (first or after.keep_out != before.keep_out) and hops(after.keep_out) < HOPS_MIN:
        wrong.append(f"{before.id} has {hops(after.keep_out)} hop channels left")
    opened = [c for c in CHANNELS if any(a <= c <= b for a, b in before.keep_out)
              and not any(a <= c <= b for a, b in after.keep_out)]
    if opened:
        wrong.append(f"{before.id} opens channel {opened[0]}")


def judge_air(show, asked, after, wrong):
    """Codes, lanes and universes of the whole rig afterwards."""
    on = [t for t in after.transmitters if t.is_on()]
    for i, a in enumerate(on):
        for b in on[i + 1:]:
            if a.code == b.code and too_close(a, b):
                wrong.append(f"{a.id} and {b.id} share {a.code}")
    now = carried(after)
    for universe, where in now.items():
        if len(where) > 1:
            wrong.append(f"universe {universe} on {where}")
    for universe in carried(show, asked.out):
        if universe not in now:
            wrong.append(f"universe {universe} is no longer carried")


def judge(show, asked, after):
    """Cost of a changed show, and all that is wrong with it. Nothing is assumed of how it was found."""
    wrong = []
    lost, working = sort_fixtures(show, asked)
    costs = Costs(0, 0, 0, 0)
    for before, new in zip(show.transmitters, after.transmitters):
        judge_transmitter(show, asked, before, new, wrong)
        if before.id not in asked.out:
            costs.settings += settings_of(before, new)
    judge_air(show, asked, after, wrong)
    for before, new in zip(show.fixtures, after.fixtures):
        touched = before.key() != new.key()
        if before.id not in lost and before.id not in working:
            if touched:
                wrong.append(f"fixture {before.id} is not counted but touched")
            if lands_wrong(after, new) and not lands_wrong(show, before):
                wrong.append(f"fixture {before.id}, which failed before, lands in another universe")
            continue
        costs.touches += touched
        state, where = landing(after, new)
        if touched and state == "right" and not air_allowed(show, new, new.air):
            wrong.append(f"fixture {before.id} cannot take {new.air}")
        if lands_wrong(after, new):
            wrong.append(f"fixture {before.id} lands in another universe")
        if before.id in lost:
            costs.dark += state != "right"
            continue
        if state != "right":
            wrong.append(f"working fixture {before.id} went dark")
        lane_same = where == working[before.id] and not touched
        costs.disturbed += not lane_same
    if asked.keep_working and costs.disturbed:
        wrong.append("working fixtures are disturbed")
    return costs, wrong
