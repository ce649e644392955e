"""A swap as an integer program in CPLEX LP format, solved by glpsol.

The variables are the state of the rig afterwards: code, air mode and lanes of each transmitter that may change, and of each
fixture how it is served. Costs are minimised one after the other: dark, disturbed, touches, settings.
"""
import os
import subprocess
import tempfile

import rig

FRESH, NONE = "a fresh code", "no code"


class Undecided(Exception):
    """glpsol ran out of time."""


class Linear:
    """A linear expression: {variable: factor} and a constant."""

    def __init__(self, terms=None, constant=0):
        self.terms, self.constant = dict(terms or {}), constant

    def __add__(self, other):
        if not isinstance(other, Linear):
            return Linear(self.terms, self.constant + other)
        terms = dict(self.terms)
        for name, factor in other.terms.items():
            terms[name] = terms.get(name, 0) + factor
        return Linear(terms, self.constant + other.constant)

    __radd__ = __add__

    def __mul__(self, factor):
        return Linear({n: f * factor for n, f in self.terms.items()}, self.constant * factor)

    __rmul__ = __mul__

    def __neg__(self):
        return self * -1

    def __sub__(self, other):
        return self + -other

    def __rsub__(self, other):
        return -self + other

    def at(self, values):
        return self.constant + sum(f * values[n] for n, f in self.terms.items())


def wrapped(terms, names):
    parts = [f"{'+' if f >= 0 else '-'} {abs(f)} {names[n]}" for n, f in terms]
    return "\n  ".join(" ".join(parts[i:i + 8]) for i in range(0, len(parts), 8))


class Program:
    """Binary variables, rows and a cost, as text for glpsol."""

    def __init__(self):
        self.names, self.rows = {}, []

    def binary(self, *key):
        self.names.setdefault(key, f"x{len(self.names)}")
        return Linear({key: 1})

    def row(self, left, sense, right):
        """left <sense> right, either a Linear or a number."""
        left = left - right
        terms = {n: f for n, f in left.terms.items() if f}
        if terms:
            self.rows.append((terms, sense, -left.constant))
            return
        good = {"<=": left.constant <= 0, ">=": left.constant >= 0, "=": left.constant == 0}[sense]
        assert good, f"a row without variables is false: {left.constant} {sense} 0"

    def text(self, cost):
        # The cost names every variable first, so that column j is the j-th of self.names.
        every = wrapped([(n, cost.terms.get(n, 0)) for n in self.names], self.names)
        lines = ["Minimize", " cost:", "  " + every, "Subject To"]
        for i, (terms, sense, right) in enumerate(self.rows):
            lines.append(f" r{i}: {wrapped(terms.items(), self.names)} {sense} {right}")
        names = list(self.names.values())
        lines.append("Binary")
        lines += [" " + " ".join(names[i:i + 12]) for i in range(0, len(names), 12)]
        return "\n".join(lines + ["End", ""])

    def solve(self, cost, seconds, keep=None):
        """@return ({variable: 0 or 1}), or None when no choice meets all rows."""
        if not self.names:
            return {}
        with tempfile.TemporaryDirectory() as folder:
            path = keep or os.path.join(folder, "swap.lp")
            answer = os.path.join(folder, "swap.sol")
            with open(path, "w", encoding="ascii") as file:
                file.write(self.text(cost))
            done = subprocess.run(["glpsol", "--lp", path, "--tmlim", str(seconds), "--cuts", "-w", answer],
                                  capture_output=True, text=True, check=False)
            if done.returncode or not os.path.exists(answer):
                if "NO PRIMAL FEASIBLE" in done.stdout or "NO INTEGER FEASIBLE" in done.stdout:
                    return None
                raise RuntimeError(f"glpsol: {done.stdout[-2000:]} {done.stderr}")
            with open(answer, encoding="ascii") as file:
                return self.read(file)

    def read(self, file):
        values, names, status = {}, list(self.names), "?"
        for line in file:
            words = line.split()
            if words[:2] == ["s", "mip"]:
                status = words[4]
            elif words and words[0] == "j":
                values[names[int(words[1]) - 1]] = round(float(words[2]))
        if status == "f" or status == "u":
            raise Undecided(f"glpsol status {status}")
        return values if status == "o" else None


class Served:
    """Fixtures with the same universe, key, reach and air modes: one decision for all of them."""

    def __init__(self, number, fixture, kind, home, near, airs):
        self.number, self.kind, self.home, self.near, self.airs = number, kind, home, near, airs
        self.universe, self.key = fixture.universe, fixture.key()
        self.members = []


class Swap:
    """The integer program of one swap."""

    def __init__(self, show, asked, disturb):
        self.show, self.asked, self.disturb = show, asked, disturb
        self.program = Program()
        self.lost, self.working = rig.sort_fixtures(show, asked)
        self.remaining = [t for t in show.transmitters if t.id not in asked.out]
        self.open = {t.id: t for t in self.remaining if asked.may_change(t)}
        self.groups = self.make_groups()
        self.codes = sorted({g.key[0] for g in self.groups})
        # Where nothing may be disturbed, whoever serves a working fixture keeps code, air mode and that lane: no choice.
        pinned = [] if disturb else [g for g in self.groups if g.kind == "working"]
        self.pinned, self.places = {g.home for g in pinned}, {g.universe: (g.home, g.key[2]) for g in pinned}
        self.universes, self.must_stay = self.movable()
        self.reached = {(g.universe, t.id) for g in self.groups for t in g.near}
        self.touches, self.disturbed, self.dark, self.settings = Linear(), Linear(), Linear(), Linear()
        for transmitter in self.open.values():
            self.one_transmitter(transmitter)
        self.one_lane_each()
        self.no_clash()
        for group in self.groups:
            (self.serve_lost if group.kind == "lost" else self.serve_working)(group)
        for fixture in show.fixtures:
            if fixture.id not in self.lost and fixture.id not in self.working:
                self.keep_from_wrong(fixture)

    # ---- what there is ----

    def make_groups(self):
        groups = {}
        for fixture in self.show.fixtures:
            kind = "lost" if fixture.id in self.lost else "working" if fixture.id in self.working else None
            if not kind:
                continue
            home = self.lost.get(fixture.id) or self.working.get(fixture.id)
            near = [t for t in self.remaining if rig.in_reach(t, fixture)]
            airs = [a for a in ("single", "dual") if rig.air_allowed(self.show, fixture, a)]
            mark = (kind, home, fixture.universe, fixture.key(), tuple(t.id for t in near), tuple(airs))
            group = groups.setdefault(mark, Served(len(groups), fixture, kind, home, near, airs))
            group.members.append(fixture)
        return list(groups.values())

    def movable(self):
        """Universes that may stand on a lane of a transmitter that may change, and those of them that must stand on one."""
        fixed, stay = set(), set()
        for t in self.remaining:
            if not t.spare:
                (stay if t.id in self.open else fixed).update(t.lanes.values())
        offered = {u for t in self.show.transmitters if t.id in self.asked.out for u in t.lanes.values()}
        offered |= {u for t in self.open.values() for u in t.lanes.values()}
        return sorted((offered | stay) - fixed), stay

    # ---- the state of a transmitter afterwards, a constant for one that may not change ----

    def choices(self, t):
        return [t.code] if t.id in self.pinned else list(dict.fromkeys([t.code or NONE] + self.codes + [FRESH]))

    def modes(self, t):
        return [t.air] if t.id in self.pinned else list(dict.fromkeys([t.air] + t.airs))

    def on(self, t):
        """1 if it is not a spare (any more)."""
        if t.id in self.open and t.spare:
            return self.program.binary("on", t.id)
        return Linear(constant=int(not t.spare))

    def code(self, t, code):
        """1 if it is on with this code."""
        if t.id in self.open:
            return self.program.binary("code", t.id, code) if code in self.choices(t) else Linear()
        return Linear(constant=int(not t.spare and (t.code or NONE) == code))

    def air(self, t, air):
        if t.id in self.open:
            return self.program.binary("air", t.id, air) if air in self.modes(t) else Linear()
        return Linear(constant=int(not t.spare and t.air == air))

    def lane(self, universe, t, lane):
        """1 if it is on and this lane carries the universe."""
        if t.id in self.open:
            if self.places.get(universe, (t.id, lane)) != (t.id, lane):
                return Linear()
            useful = (universe, t.id) in self.reached or t.lanes.get(lane) is not None or universe in self.must_stay
            known = universe in self.universes and 1 <= lane <= self.top(t)
            return self.program.binary("lane", universe, t.id, lane) if useful and known else Linear()
        return Linear(constant=int(not t.spare and t.lanes.get(lane) == universe))

    def top(self, t):
        return max(t.top(air) for air in self.modes(t))

    def on_lane(self, t, lane):
        return sum((self.lane(u, t, lane) for u in self.universes), Linear())

    def other_on_lane(self, t, lane, universe):
        """1 if the lane carries a universe that is not this one."""
        if t.id not in self.open:
            return Linear(constant=int(not t.spare and t.lanes.get(lane) not in (None, universe)))
        return sum((self.lane(u, t, lane) for u in self.universes if u != universe), Linear())

    # ---- transmitters ----

    def one_transmitter(self, t):
        on, row = self.on(t), self.program.row
        codes, modes = self.choices(t), self.modes(t)
        row(sum((self.code(t, c) for c in codes), Linear()), "=", on)
        row(sum((self.air(t, a) for a in modes), Linear()), "=", on)
        has_code = sum((self.code(t, c) for c in codes if c != NONE), Linear())
        for lane in range(1, self.top(t) + 1):
            enough = sum((self.air(t, a) for a in modes if t.top(a) >= lane), Linear())
            row(self.on_lane(t, lane), "<=", enough)
            before = t.lanes.get(lane)
            if before is None:
                self.settings += self.on_lane(t, lane)
            else:
                self.settings += on - self.lane(before, t, lane)
            for universe in self.universes:
                if universe != before:
                    row(self.lane(universe, t, lane), "<=", has_code)
        if t.spare:
            every = sum((self.on_lane(t, lane) for lane in range(1, self.top(t) + 1)), Linear())
            row(every, ">=", on)
            row(has_code, ">=", on)          # without a code it would be off the air
        self.settings += sum((self.code(t, c) for c in codes if c != (t.code or NONE)), Linear())
        self.settings += sum((self.air(t, a) for a in modes if a != t.air), Linear())
        self.quiet(t, has_code)

    def quiet(self, t, has_code):
        """What its first lane or its first code asks for."""
        triggers = []
        if not t.lanes:
            triggers += [self.on_lane(t, lane) for lane in range(1, self.top(t) + 1)]
        if t.code is None:
            triggers.append(has_code)
        if not triggers:
            return
        union = t.keep_out + [band for band in self.show.quiet]
        kept = rig.quiet_kept(self.show, t.keep_out)
        if rig.hops(t.keep_out if kept else union) < rig.HOPS_MIN:
            for trigger in triggers:
                self.program.row(trigger, "<=", 0)
        elif not kept:
            changed = self.program.binary("keep_out", t.id)
            self.settings += changed
            for trigger in triggers:
                self.program.row(trigger, "<=", changed)

    def one_lane_each(self):
        for universe in self.universes:
            places = [self.lane(universe, t, n) for t in self.open.values() for n in range(1, self.top(t) + 1)]
            self.program.row(sum(places, Linear()), "=" if universe in self.must_stay else "<=", 1)

    def no_clash(self):
        for i, a in enumerate(self.remaining):
            for b in self.remaining[i + 1:]:
                if (a.id in self.open or b.id in self.open) and rig.too_close(a, b):
                    for code in {c for t in (a, b) for c in self.choices(t)} - {FRESH, NONE}:
                        self.program.row(self.code(a, code) + self.code(b, code), "<=", 1)

    # ---- fixtures ----

    def joins(self, group, t, key):
        """The three choices that make a transmitter match a key, or None if it cannot."""
        code, air, lane = key
        able = air in self.modes(t) if t.id in self.open else t.air == air
        return (self.code(t, code), self.air(t, air)) if able and 1 <= lane <= t.top(air) else None

    def only_one(self, group, served, t, key):
        """If served by t with this key, no other transmitter in reach matches the key too."""
        for other in group.near:
            both = self.joins(group, other, key) if other.id != t.id else None
            if both:
                self.program.row(served + both[0] + both[1], "<=", 2)

    def by_old_key(self, group, t):
        """1 if t serves it with the settings that it has; None if that cannot be."""
        code, air, lane = group.key
        if not self.joins(group, t, group.key):
            return None
        served = self.program.binary("old", group.number, t.id)
        for needed in (self.code(t, code), self.air(t, air), self.lane(group.universe, t, lane)):
            self.program.row(served, "<=", needed)
        self.only_one(group, served, t, group.key)
        return served

    def by_new_key(self, group, t, air):
        """1 if t serves it after a touch."""
        served = self.program.binary("new", group.number, t.id, air)
        lanes = {lane: self.lane(group.universe, t, lane) for lane in range(1, t.top(air) + 1)}
        self.program.row(served, "<=", sum(lanes.values(), Linear()))
        self.program.row(served, "<=", self.air(t, air))
        self.program.row(served, "<=", sum((self.code(t, c) for c in self.choices(t) if c != NONE), Linear()))
        for other in group.near:
            if other.id == t.id or rig.too_close(t, other):
                continue                     # those never share a code
            for lane, carried in lanes.items():
                if not carried.terms:
                    continue
                for code in self.choices(t):
                    both = self.joins(group, other, (code, air, lane)) if code not in (FRESH, NONE) else None
                    if both:
                        self.program.row(served + carried + self.code(t, code) + both[0] + both[1], "<=", 4)
        return served

    def ways(self, group, home=None):
        """(by the old key, by a new key): lists of choices."""
        old, new = [], []
        for t in group.near:
            if t.id not in self.open:
                continue
            if t.id != home:
                old += filter(None, [self.by_old_key(group, t)])
            new += [self.by_new_key(group, t, air) for air in group.airs if air in self.modes(t)]
        return old, new

    def serve_lost(self, group):
        size = len(group.members)
        old, new = self.ways(group)
        lit = sum(old + new, Linear())
        self.program.row(lit, "<=", 1)
        self.dark += size * (1 - lit)
        self.touches += size * sum(new, Linear())
        wrong = []
        for t in group.near:
            both = self.joins(group, t, group.key)
            if both:
                other = self.other_on_lane(t, group.key[2], group.universe)
                wrong.append(both[0] + both[1] + other - 2)
        if wrong:
            parked = self.program.binary("parked", group.number)
            self.touches += size * parked
            for one in wrong:
                self.program.row(parked + sum(new, Linear()), ">=", one)

    def serve_working(self, group):
        size = len(group.members)
        home = next(t for t in self.remaining if t.id == group.home)
        code, air, lane = group.key
        if home.id not in self.open:
            self.only_one(group, Linear(constant=1), home, group.key)
            return
        same = self.program.binary("same", group.number)
        for needed in (self.code(home, code), self.air(home, air), self.lane(group.universe, home, lane)):
            self.program.row(same, "<=", needed)
        self.only_one(group, same, home, group.key)
        if not self.disturb:
            self.program.row(same, "=", 1)
            return
        old, new = self.ways(group, home.id)
        self.program.row(same + sum(old + new, Linear()), "=", 1)
        self.disturbed += size * (1 - same)
        self.touches += size * sum(new, Linear())

    def keep_from_wrong(self, fixture):
        """A fixture that is not counted does not begin to land in another universe."""
        if fixture.universe is None or fixture.code is None or rig.lands_wrong(self.show, fixture):
            return
        for t in self.remaining:
            both = self.joins(None, t, fixture.key()) if rig.in_reach(t, fixture) else None
            if both:
                other = self.other_on_lane(t, fixture.lane, fixture.universe)
                self.program.row(both[0] + both[1] + other, "<=", 2)

    # ---- solving ----

    def solve(self, seconds, keep=None, ties=False):
        """@param ties  also find the least list of places, universe by universe
        @return the changed show, or None when no choice at all meets the rules."""
        count = len(self.lost) + len(self.working) + 1
        values = self.program.solve(count * self.dark + self.disturbed, seconds, keep)
        if values is None:
            return None
        self.program.row(self.dark, "=", self.dark.at(values))
        self.program.row(self.disturbed, "=", self.disturbed.at(values))
        most = 1 + sum(abs(f) for f in self.settings.terms.values())
        values = self.program.solve(most * self.touches + self.settings, seconds, keep and keep + ".2")
        assert values is not None, "the first optimum is gone in the second step"
        self.costs = tuple(int(e.at(values)) for e in (self.dark, self.disturbed, self.touches, self.settings))
        return self.apply(self.least_list(values, seconds) if ties else values)

    def least_list(self, values, seconds):
        """Every place gets a number in the order of ties, not carried the last; each universe in turn takes the least."""
        self.program.row(self.touches, "=", self.touches.at(values))
        self.program.row(self.settings, "=", self.settings.at(values))
        places = sorted(((t, lane) for t in self.open.values() for lane in range(1, self.top(t) + 1)),
                        key=lambda place: (place[0].id.encode(), place[1]))
        offered = {u for t in self.show.transmitters if t.id in self.asked.out for u in t.lanes.values()}
        for universe in sorted(offered & set(self.universes)):
            number = Linear(constant=len(places))
            for n, (t, lane) in enumerate(places):
                number += (n - len(places)) * self.lane(universe, t, lane)
            if not number.terms:
                continue
            values = self.program.solve(number, seconds)
            assert values is not None, "the optimum is gone in the search for the least list"
            self.program.row(number, "=", number.at(values))
        return values

    def apply(self, values):
        """The rig that the values describe; costs are not carried over."""
        after = rig.take_off(self.show, self.asked)
        fresh = self.fresh_codes()
        by_id = {t.id: t for t in after.transmitters}
        for t in self.open.values():
            new = by_id[t.id]
            if not round(self.on(t).at(values)):
                continue
            new.spare = False
            chosen = [c for c in self.choices(t) if self.code(t, c).at(values)]
            new.code = {NONE: None, FRESH: None}.get(chosen[0], chosen[0])
            if chosen[0] == FRESH:
                new.code = next(fresh)
            new.air = [a for a in self.modes(t) if self.air(t, a).at(values)][0]
            new.lanes = {lane: u for lane in range(1, self.top(t) + 1) for u in self.universes
                         if self.lane(u, t, lane).at(values)}
            if ("keep_out", t.id) in self.program.names and values["keep_out", t.id]:
                new.keep_out = t.keep_out + self.show.quiet
        for group in self.groups:
            self.apply_group(after, by_id, group, values, fresh)
        return after

    def fresh_codes(self):
        taken = {t.code for t in self.show.transmitters} | {f.code for f in self.show.fixtures}
        return (code for code in (f"77{n:05d}3" for n in range(100000)) if code not in taken)

    def apply_group(self, after, by_id, group, values, fresh):
        ids = {f.id for f in group.members}
        members = [f for f in after.fixtures if f.id in ids]
        parked = values.get(("parked", group.number), 0)
        for (kind, *rest), value in values.items():
            if kind == "new" and value and rest[0] == group.number:
                t, parked = by_id[rest[1]], 0
                for fixture in members:
                    fixture.code, fixture.air = t.code, rest[2]
                    fixture.lane = next(lane for lane, u in t.lanes.items() if u == group.universe)
        if parked:
            code = next(fresh)
            for fixture in members:
                fixture.code = code


def can_light(show, asked, fixture):
    """Whether any transmitter that may change could serve this fixture, were it alone."""
    airs = {air for air in ("single", "dual") if air == fixture.air or rig.air_allowed(show, fixture, air)}
    return any(asked.may_change(t) and rig.in_reach(t, fixture) and airs & {t.air, *t.airs} for t in show.transmitters)


def optimum(show, asked, seconds=60, keep=None, ties=False):
    """Least cost by integer programming.
    @param ties  of all changed shows with that cost, the one with the least list of places
    @return (costs of the program, changed show), or (None, None) when nothing is feasible"""
    lost, working = rig.sort_fixtures(show, asked)
    swap = Swap(show, asked, disturb=False)
    after = swap.solve(seconds, keep, ties)
    hopeless = sum(1 for f in show.fixtures if f.id in lost and not can_light(show, asked, f))
    if asked.keep_working or not working or (after and swap.costs[0] == hopeless):
        return (swap.costs, after) if after else (None, None)
    swap = Swap(show, asked, disturb=True)
    after = swap.solve(seconds, keep, ties)
    return (swap.costs, after) if after else (None, None)
