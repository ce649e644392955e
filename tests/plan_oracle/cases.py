"""Generated swap cases: the same seed and size give the same case for ever, on every Python from 3.9."""
import random

import rig

SIZES = {
    #          sites, transmitters, radios, universes, fixtures a universe
    "tiny":   ((1, 2), (2, 4), (1, 1), (1, 3), (1, 2)),
    "small":  ((1, 3), (2, 8), (1, 2), (2, 8), (1, 3)),
    "middle": ((1, 4), (6, 12), (1, 4), (8, 24), (1, 4)),
    "large":  ((2, 5), (10, 16), (2, 4), (20, 40), (1, 5)),
}
REACHES = [25.0, 45.0, 80.0, 140.0]
BANDS = [(2402, 2423), (2431, 2452), (2467, 2480), (2400, 2410), (2440, 2441), (2402, 2462), (2405.5, 2405.9)]


class Maker:
    def __init__(self, seed, size):
        self.random = random.Random(f"{size} {seed}")
        self.sites_range, self.tx_range, self.radios_range, self.universe_range, self.fixture_range = SIZES[size]
        self.codes = set()
        self.style = self.random.choices(["open", "plain", "chain", "split"], [5, 1, 4, 3])[0]
        self.show = rig.Show(f"Case {size} {seed}", [], [], self.types(), [], [], [])

    def chance(self, share):
        return self.random.random() < share

    def between(self, pair):
        return self.random.randint(*pair)

    def code(self):
        while True:
            code = f"{self.random.randint(10000000, 99999999)}"
            if code not in self.codes and not rig.guessable(code):
                self.codes.add(code)
                return code

    def types(self):
        return {t.id: t for t in (rig.Type("both", ["single", "dual"], {}), rig.Type("narrow", ["single"], {}),
                                  rig.Type("wide", ["dual"], {}), rig.Type("late", ["single", "dual"], {"dual": "3.1"}))}

    # ---- the rig ----

    def near(self, site, spread):
        x, y = site
        r = self.random
        return (round(x + r.uniform(-spread, spread), 1), round(y + r.uniform(-spread, spread), 1), r.choice([0, 2, 6]))

    def place(self, number, kind, site):
        """Where a transmitter stands and how far it reaches.

        open: near its site. plain: no positions, the site decides. chain: in a line, hardly a lane free, so that what is
        lost must often push others on. split: the first reaches far, the others stand at both sides of it, too close or just
        far enough apart to share its code, with fixtures between them that hear both."""
        r = self.random
        if self.style == "plain":
            return None, None
        if self.style == "chain":
            return self.near((30 * number, 0), 4), 45.0
        if self.style == "split" and number == 1:
            return (0, 0, 6), 140.0
        if self.style == "split":
            side = 1 if number % 2 else -1
            return self.near((side * (r.uniform(18, 40) if kind == "spare" else r.uniform(40, 90)), 0), 4), 45.0
        return self.near(self.show.sites[site][1], 15), r.choice(REACHES)

    def transmitter(self, number, kind):
        r = self.random
        site = r.randrange(len(self.show.sites))
        airs = r.choice([["single"], ["dual"], ["single", "dual"], ["single", "dual"]])
        air = r.choice(airs)
        spare = kind == "spare" and self.chance(0.8)
        code = None if kind == "spare" and self.chance(0.5) else self.code()
        pos, reach = self.place(number, kind, site)
        if self.style in ("chain", "split"):
            airs = ["single", "dual"] if number == 1 else r.choice([["single", "dual"], airs])
            air = "dual" if self.style == "split" and number == 1 else r.choice(airs)
        radios = self.between(self.radios_range)
        t = rig.Transmitter(f"T{number}", self.show.sites[site][0], pos, reach, radios, airs, air, code, spare)
        if self.chance(0.3):
            t.keep_out = [b for b in self.show.quiet if b[0] >= 2402]
        elif self.chance(0.1):
            t.keep_out = [(2470, 2475)]
        if kind != "spare" and not rig.quiet_kept(self.show, t.keep_out) and self.chance(0.9):
            t.keep_out = list(self.show.quiet)
        self.show.transmitters.append(t)
        return t

    def share_codes(self):
        """One code on two transmitters that are far apart; spares may have any code."""
        all_of = self.show.transmitters
        for t in all_of:
            other = self.random.choice(all_of)
            if t is other or t.code is None or other.code is None or not self.chance(0.25):
                continue
            close = [o for o in all_of if o is not t and o.is_on() and o.code == other.code and rig.too_close(t, o)]
            if t.spare or not close:
                t.code = other.code

    def fill_lanes(self, live):
        """Universes to the lanes of transmitters that are in use; some lanes stay free."""
        free = [(t, lane) for t in live for lane in range(1, t.top(t.air) + 1)]
        self.random.shuffle(free)
        keep = max(1, round(len(free) * (0.9 if self.style == "chain" else self.random.choice([0.5, 0.8, 1.0]))))
        for universe, (t, lane) in zip(self.show.universes, free[:keep]):
            t.lanes[lane] = universe

    def prefill_spares(self, live):
        """Some spares stand ready with lanes of a transmitter in use, or with lanes that are of no use."""
        for t in self.show.transmitters:
            if t.spare and t.air and self.chance(self.prefill):
                model = self.random.choice(live)
                t.lanes = {n: u for n, u in model.lanes.items() if n <= t.top(t.air) and self.chance(0.8)}
                if t.code and self.chance(0.5):
                    t.code = model.code

    def fixtures(self, live):
        number = 100
        for t in live:
            for lane, universe in sorted(t.lanes.items()):
                for _ in range(self.between(self.fixture_range)):
                    number += self.random.randint(1, 3)
                    self.fixture(number, t, lane, universe)

    def fixture(self, number, t, lane, universe):
        r = self.random
        kind = r.choice([k for k in self.show.types.values() if t.air in k.airs])
        firmware = r.choice([None, "3", "3.0.9", "3.1", "3.10", "4"])
        site = r.choice(self.show.sites) if self.style == "plain" and self.chance(0.1) else None
        spread = {"chain": 0.2, "split": 0.2}.get(self.style) or r.choice([0.2, 0.5, 0.7, 0.72])
        pos = None if self.style == "plain" else self.near(t.pos[:2], t.reach * spread)
        if self.style == "split":
            pos = (round(pos[0] + (25 if universe % 2 else -25), 1), *pos[1:])
        f = rig.Fixture(number, kind.id, site[0] if site else t.site, pos, universe, 1 + 10 * (number % 50),
                        t.code, t.air, lane, firmware)
        if not rig.air_allowed(self.show, f, f.air):
            f.firmware = "3.1"
        trouble = r.random()
        if trouble < 0.05:                                  # of a transmitter that was sent home, or another that is here
            f.code = r.choice(["10203040", t.code] + [o.code for o in self.show.transmitters if o.code])
            f.lane = r.randint(1, 4)
        elif trouble < 0.06:
            f.code = f.air = f.lane = None                  # wired
        elif trouble < 0.08:
            f.universe = f.address = None                   # keyed, but not patched
        self.show.fixtures.append(f)

    def make(self):
        r, show = self.random, self.show
        for i in range(self.between(self.sites_range)):
            show.sites.append((f"s{i}", (r.choice([0, 30, 60, 120, 1000]) + 10 * i, r.choice([0, 40]))))
        show.quiet = sorted(r.sample(BANDS, r.choice([0, 0, 1, 1, 2])))
        count = self.between(self.tx_range)
        spares = r.randint(1, max(1, count // 2)) if self.chance(0.85) else 0
        if self.style == "split":
            count, spares = max(3, count), max(2, spares)
        self.prefill = r.choice([0, 0, 0.5])
        live = [self.transmitter(n, "live") for n in range(1, count - spares + 1)]
        for n in range(count - spares + 1, count + 1):
            self.transmitter(n, "spare")
        r.shuffle(show.transmitters)
        self.share_codes()
        show.universes = list(range(1, self.between(self.universe_range) + 1))
        r.shuffle(show.universes)
        self.fill_lanes(live)
        show.universes.sort()
        self.fixtures(live)
        self.prefill_spares(live)
        return show, self.asked(live)

    def asked(self, live):
        r = self.random
        used = [t for t in live if any(f.code == t.code for f in self.show.fixtures)] or live
        out = r.sample(used, min(len(used), r.choice([1, 1, 1, 2, 3])))
        if self.style == "split" and live[0].lanes:
            out = [live[0], *(t for t in out[1:] if t is not live[0])]
        remain = [t.id for t in self.show.transmitters if t not in out]
        only = []
        if remain and self.chance(0.25):
            only = sorted(r.sample(remain, r.randint(1, len(remain))))
        return rig.Asked(sorted(t.id for t in out), only, self.chance(0.25))


def clean(show, asked):
    """Take out of the lost universes those without a lost fixture: whether a plan must carry them is left open."""
    lost, _ = rig.sort_fixtures(show, asked)
    lit = {f.universe for f in show.fixtures if f.id in lost}
    gone = {u for t in show.transmitters if t.id in asked.out for u in t.lanes.values()}
    show.fixtures = [f for f in show.fixtures if f.universe not in gone or f.universe in lit or f.code is None]


def make(seed, size):
    """@return (show, what is asked)"""
    show, asked = Maker(seed, size).make()
    clean(show, asked)
    return show, asked


# ---- as a show file ----

def quoted(text):
    return '"' + text + '"'


def number(value):
    return str(int(value)) if value == int(value) else repr(value)


def listed(items):
    return "{ " + ", ".join(items) + " }" if items else "{}"


def bands(items):
    return listed([f"{{ from = {number(a)}, to = {number(b)} }}" for a, b in items])


def write_type(kind):
    floor = f', firmware_floor = ' + listed([f'{a} = "{v}"' for a, v in kind.floor.items()]) if kind.floor else ""
    return (f'    {{ id = "{kind.id}", airs = {listed([quoted(a) for a in kind.airs])}{floor},\n'
            f'      modes = {{ {{ id = "m", head = {{}}, cells = 1, slots = {{ "intensity" }}, tail = {{}} }} }} }},\n')


def write_transmitter(t):
    keys = [f'id = "{t.id}"', f'site = "{t.site}"']
    if t.pos is not None:
        keys.append(f"pos = {listed([number(v) for v in t.pos])}")
    if t.reach is not None:
        keys.append(f"reach = {number(t.reach)}")
    keys += [f"radios = {t.radios}", f"airs = {listed([quoted(a) for a in t.airs])}"]
    keys += [f'{k} = "{v}"' for k, v in (("air", t.air), ("code", t.code)) if v is not None]
    if t.spare:
        keys.append("spare = true")
    keys.append("lanes = " + listed([f"{{ lane = {n}, universe = {u} }}" for n, u in sorted(t.lanes.items())]))
    if t.keep_out:
        keys.append(f"keep_out = {bands(t.keep_out)}")
    return "    { " + ", ".join(keys) + " },\n"


def write_fixture(f):
    keys = [f"id = {f.id}", f'type = "{f.type}"', 'mode = "m"', f'site = "{f.site}"']
    if f.pos is not None:
        keys.append(f"pos = {listed([number(v) for v in f.pos])}")
    keys += [f"{k} = {v}" for k, v in (("universe", f.universe), ("address", f.address)) if v is not None]
    keys += [f'{k} = "{v}"' for k, v in (("code", f.code), ("air", f.air)) if v is not None]
    if f.lane is not None:
        keys.append(f"lane = {f.lane}")
    if f.firmware is not None:
        keys.append(f'firmware = "{f.firmware}"')
    return "    { " + ", ".join(keys) + " },\n"


def as_text(show):
    """The show as rigcall reads it."""
    sites = listed([f'{{ id = "{s}" }}' for s, _ in show.sites])
    universes = listed([f'{{ id = {u}, label = "U{u}" }}' for u in show.universes])
    return (f'return {{\n  rigcall = 1, name = "{show.name}",\n  sites = {sites},\n  quiet = {bands(show.quiet)},\n'
            f'  types = {{\n{"".join(map(write_type, show.types.values()))}  }},\n'
            f'  transmitters = {{\n{"".join(map(write_transmitter, show.transmitters))}  }},\n'
            f'  universes = {universes},\n  fixtures = {{\n{"".join(map(write_fixture, show.fixtures))}  }},\n}}\n')
