"""Seeded random shows: plausible ones first, then mistakes of every kind.

A seed gives the same show with one version of Python: only random.Random is asked, and no set is walked.
"""
import random
from decimal import Decimal

from mistakes import MISTAKES
from values import AIRS, EDGES, EIRP, FIRMWARE, PARAMETERS, REGIONS, TX_NAMES, footprint, top


class Generator:
    def __init__(self, seed):
        self.r = random.Random(f"rigcall show {seed}")
        self.name = f"Show {seed}"

    def chance(self, p):
        return self.r.random() < p

    def show(self, mistakes=True):
        r = self.r
        show = {"rigcall": 1, "name": self.name}
        if self.chance(0.8):
            show["region"] = r.choice(REGIONS)
        self.sites(show)
        self.quiet(show)
        self.types(show)
        self.transmitters(show)
        self.universes(show)
        self.fixtures(show)
        for _ in range(r.choice((0, 1, 2, 4, 8, 16)) if mistakes else 0):
            r.choice(MISTAKES)(self, show)
        if r.random() < 0.3:
            for name in ("sites", "types", "transmitters", "universes", "fixtures"):
                r.shuffle(show[name])
        self.call(show)
        return show

    # Plausible parts.

    def sites(self, show):
        names = self.r.sample(("quay", "barge", "yard", "attic", "Quay", "pier.2"), self.r.randint(1, 4))
        show["sites"] = [{"id": name, "name": name} for name in names]
        self.centre = {name: [self.r.randint(0, 12) * 20, self.r.randint(0, 4) * 20, 0] for name in names}

    def quiet(self, show):
        r = self.r
        show["quiet"] = []
        for _ in range(r.choice((0, 0, 1, 1, 2, 3))):
            low, high = sorted(Decimal(edge) for edge in r.choices(EDGES, k=2))
            show["quiet"].append({"from": low, "to": high, "who": r.choice(("camera", "sound", "video"))})

    def types(self, show):
        r = self.r
        show["types"] = []
        for name in r.sample(("batten", "tube", "uplight", "Pan-head", "haze", "panel9"), r.randint(1, 4)):
            airs = list(r.choice((AIRS, AIRS, AIRS, ("single",), ("dual",), ())))
            kind = {"id": name, "airs": airs}
            if self.chance(0.5):
                kind["firmware_floor"] = {air: r.choice(FIRMWARE) for air in airs if self.chance(0.7)}
            if self.chance(0.8):
                kind["watts"] = Decimal(r.choice(("0", "7.5", "12", "33.3", "40", "0.7", "100")))
            if self.chance(0.8):
                kind["battery_wh"] = Decimal(r.choice(("0", "75", "120", "320", "500", "999.9")))
            if self.chance(0.4):
                kind["sensitivity_dbm"] = Decimal(r.choice(("-100", "-92.5", "-60", "-45", "-20")))
            if self.chance(0.25):
                kind["hazard"] = r.choice(("motion", "laser", "flame", "fog", "other"))
            kind["modes"] = [self.mode(i) for i in range(r.randint(1, 3))]
            show["types"].append(kind)

    def mode(self, i):
        r = self.r
        if self.chance(0.1):
            return {"id": f"m{i}", "head": [], "cells": 1, "slots": ["intensity"], "tail": []}
        slots = r.sample(PARAMETERS, r.randint(1, 5))
        cells = r.choice((1, 1, 2, 4, 12, 40)) if self.chance(0.95) else r.choice((0, 102, 103, 600, 2147483647))
        return {"id": f"m{i}", "head": ["pan", "pan+fine"][:r.choice((0, 0, 1, 2))], "cells": cells, "slots": slots,
                "tail": ["strobe"] if self.chance(0.3) else []}

    def position(self, site, spread):
        centre = self.centre.get(site, [0, 0, 0])
        return [c + Decimal(self.r.randint(-spread * 2, spread * 2)) / 2 for c in centre[:2]] + [self.r.randint(0, 8)]

    def code(self):
        return "".join(self.r.choice("0123456789") for _ in range(8))

    def transmitters(self, show):
        r = self.r
        self.numbers = iter(r.sample(range(2, 400), 120) if self.chance(0.5) else range(1, 121))
        show["transmitters"] = []
        for name in r.sample(TX_NAMES, r.randint(1, 8)):
            site = r.choice(show["sites"])["id"]
            airs = list(r.choice((AIRS, AIRS, ("single",), ("dual",))))
            one = {"id": name, "name": f"Mast {name}", "site": site, "radios": r.choice((1, 1, 2, 2, 4, 8)), "airs": airs,
                   "air": r.choice(airs), "spare": self.chance(0.25)}
            if self.chance(0.8):
                one["pos"] = self.position(site, 10)
            if self.chance(0.8):
                one["reach"] = Decimal(r.choice(("20", "40", "80", "120", "12.5", "0", "500")))
            if self.chance(0.7):
                one["eirp_dbm"] = Decimal(r.choice(EIRP))
            if self.chance(0.9 if not one["spare"] else 0.3):
                one["code"] = self.code()
            highest = top(one)
            lanes = sorted(r.sample(range(1, highest + 1), r.randint(1, min(highest, 5))))
            if one["spare"] and self.chance(0.7):
                lanes = []
            one["lanes"] = [{"lane": lane, "universe": next(self.numbers)} for lane in lanes]
            self.keep_out(show, one)
            show["transmitters"].append(one)

    def keep_out(self, show, transmitter):
        bands = [{"from": q["from"], "to": q["to"]} for q in show["quiet"] if self.chance(0.9)]
        out = sum(1 for c in range(2402, 2481) if any(b["from"] <= c <= b["to"] for b in bands))
        transmitter["keep_out"] = bands if out <= 64 or self.chance(0.3) else bands[:1]

    def universes(self, show):
        numbers = sorted({lane["universe"] for t in show["transmitters"] for lane in t["lanes"]}) or [1]
        wired = next(self.numbers)
        show["universes"] = [{"id": n, "label": f"Rail {n}"} for n in dict.fromkeys(numbers + [wired])]
        for universe in show["universes"]:
            if self.chance(0.1):
                universe["wire"] = universe["id"] + 1000
        self.wired = wired
        self.cursor = {}

    def fixtures(self, show):
        r = self.r
        show["fixtures"] = []
        usable = [t for t in show["transmitters"] if not t["spare"] and t["lanes"] and t.get("code")]
        ids = r.sample(range(1, 500), 60) if self.chance(0.5) else list(range(101, 161))
        for identity in ids[:r.choice((5, 8, 13, 21, 34, 60))]:
            one = {"id": identity, "name": f"Lamp {identity}"}
            transmitter = r.choice(usable) if usable and self.chance(0.85) else None
            fit = [t for t in show["types"] if transmitter is None or transmitter["air"] in t["airs"]] or show["types"]
            kind = r.choice(fit)
            mode = r.choice(kind["modes"])
            one.update(type=kind["id"], mode=mode["id"], site=r.choice(show["sites"])["id"])
            if transmitter:
                one["site"] = transmitter["site"]
            if self.chance(0.85):
                one["pos"] = self.position(one["site"], 12)
            if transmitter:
                lane = r.choice(transmitter["lanes"])
                one.update(universe=lane["universe"], code=transmitter["code"], air=transmitter["air"], lane=lane["lane"])
            else:
                one["universe"] = self.wired
            start = self.cursor.get(one["universe"], 1)
            if start + footprint(mode) > 513:
                del one["universe"]
                if self.chance(0.5):
                    one.pop("code", None), one.pop("air", None), one.pop("lane", None)
            else:
                one["address"] = start
                self.cursor[one["universe"]] = start + footprint(mode)
            if self.chance(0.5):
                one["firmware"] = r.choice(FIRMWARE)
            show["fixtures"].append(one)

    def call(self, show):
        if self.chance(0.15):
            return
        show["call"] = {"hours": Decimal(self.r.choice(("0", "3", "8", "10", "12.5")))}
        if self.chance(0.7):
            show["call"]["level"] = Decimal(self.r.choice(("0", "33.3", "60", "70", "100")))
        hours, level = show["call"]["hours"], show["call"].get("level", Decimal(100))
        if self.chance(0.05):
            del show["call"]["hours"]
        for kind in show["types"]:
            if self.chance(0.4) and kind.get("watts") is not None:
                enough = kind["watts"] * level / 100 * hours
                kind["battery_wh"] = max(Decimal(0), enough + Decimal(self.r.choice(("0", "0", "0.001", "-0.001"))))

    # Picking for mistakes.

    def fixture(self, show):
        return self.r.choice(show["fixtures"])

    def transmitter(self, show):
        return self.r.choice(show["transmitters"])

    def universe(self, show):
        return self.r.choice(show["universes"])


def generate(seed):
    return Generator(seed).show()
