"""The shipped rules a second time, in another language and from their words alone, to hold against `rigcall check`.

What a rule compares is compared exactly; only free-space loss is a float. Nothing here reads a script or calls the program.
"""
import csv
import math
from collections import Counter
from decimal import Decimal
from functools import cache
from itertools import combinations
from pathlib import Path

import drift
from show_model import LISTS, Show, in_reach, squared_distance, within

# 512 slots of data in a universe: ANSI E1.11.
SLOTS = 512
# Universe numbers for data: ANSI E1.31-2018, 6.2.7 (64000 and above are reserved, 64214 is discovery).
WIRE_MIN, WIRE_MAX = 1, 63999
# 79 one-megahertz channels; at least 15 hopping channels stay in use: 47 CFR 15.247 (a)(1)(iii).
CHANNELS = range(2402, 2481)
HOPS_MIN = 15
# Free-space loss, ITU-R P.525: 20 log10(4 pi d f / c), here at 2442 MHz.
LOSS_HZ = 2442e6
LIGHT_M_S = 299792458.0
MARGIN_DB = 10
SENSITIVITY_DBM = -85
# P.525 is printed with 32.4 and used with 32.45; the exact constant is 32.4478. Nearer to the limit than this, no answer is
# expected.
MARGIN_UNSURE_DB = 0.06
# P.525 speaks of the far field: nearer than about a wavelength (0.12 m at 2442 MHz) the loss is taken at this distance.
NEAREST_M = 0.1
LABEL_CHARACTERS = 32
# A finding that says of an id who else has it names so many at most.
OTHERS_MAX = 20

# The rule that reads two shows, in drift.py.
DRIFT = "plan-drift"

# A report sorts kinds as words.
KINDS = ("fixture", "show", "site", "transmitter", "type", "universe")


@cache
def limits():
    """EIRP limit in dBm by country, 2.4 GHz: wireless-regdb 2026.05.30 (ISC licence, notice beside the table)."""
    highest = {}
    with open(Path(__file__).parents[1] / "radio" / "regdb-2g4.tsv", encoding="utf-8") as table:
        for row in csv.DictReader(table, delimiter="\t"):
            limit = Decimal(row["max_eirp_dbm"])
            highest[row["country"]] = max(limit, highest.get(row["country"], limit))
    return highest


def ref(kind, thing):
    return (kind, thing["id"])


def good_code(code):
    return len(code) == 8 and all(character in "0123456789" for character in code)


def pair(kind, a, b):
    """Subject and others of a pair: the lower id is the subject, names in the order of their octets."""
    first, second = sorted((a["id"], b["id"]), key=lambda name: name.encode() if isinstance(name, str) else name)
    return (kind, first), ((kind, second),)


def out_of_hops(transmitter):
    return {c for c in CHANNELS if any(k["from"] <= c <= k["to"] for k in transmitter.get("keep_out", []))}


def ids_unique(show):
    """fail: two objects of one kind share an id."""
    for kind, name in LISTS.items():
        count = Counter(thing["id"] for thing in getattr(show, name))
        for identity, times in count.items():
            if times > 1:
                yield "fail", (kind, identity), ((kind, identity),) * min(times - 1, OTHERS_MAX)
    for kind in show.types:
        for times in Counter(mode["id"] for mode in kind["modes"]).values():
            if times > 1:
                yield "fail", ref("type", kind), ()


def type_known(show):
    """fail: a fixture's type or mode does not exist."""
    for fixture in show.fixtures:
        if show.mode_of(fixture) is None:
            yield "fail", ref("fixture", fixture), ()


def address_fits(show):
    """fail: start address outside 1..512, or the last slot past 512."""
    for fixture in show.fixtures:
        address = fixture.get("address")
        if address is None:
            continue
        last = address + show.footprint(fixture) - 1 if show.mode_of(fixture) else address
        if not 1 <= address <= SLOTS or last > SLOTS:
            yield "fail", ref("fixture", fixture), ()


def address_overlap(show):
    """fail: two fixtures share a slot of one universe; only slots 1..512 are shared."""
    def slots(fixture):
        return max(1, fixture["address"]), min(SLOTS, fixture["address"] + show.footprint(fixture) - 1)

    group = {}
    for fixture in show.fixtures:
        if fixture.get("same_as") is not None:
            pool = group.get(fixture["id"], {fixture["id"]}) | group.get(fixture["same_as"], {fixture["same_as"]})
            group.update({identity: pool for identity in pool})

    def on_purpose(a, b):
        """Bound by same_as, directly or through others, and on the same start address."""
        return a["address"] == b["address"] and a["id"] in group and b["id"] in group[a["id"]]

    patched = [f for f in show.judged() if f.get("universe") is not None and f.get("address") is not None]
    for a, b in combinations(patched, 2):
        if a["universe"] != b["universe"] or on_purpose(a, b):
            continue
        first, last = max(slots(a)[0], slots(b)[0]), min(slots(a)[1], slots(b)[1])
        if first <= last and slots(a)[0] <= slots(a)[1] and slots(b)[0] <= slots(b)[1]:
            yield ("fail", *pair("fixture", a, b))


def universe_number(show):
    """fail: the wire number (default the id) outside 1..63999 (E1.31), or one wire number on two universes."""
    def wire(universe):
        return universe.get("wire", universe["id"])

    for universe in show.universes:
        if not WIRE_MIN <= wire(universe) <= WIRE_MAX:
            yield "fail", ref("universe", universe), ()
    for a, b in combinations(show.universes, 2):
        one_mistake = a["id"] == b["id"] == wire(a)  # ids-unique names it
        if wire(a) == wire(b) and WIRE_MIN <= wire(a) <= WIRE_MAX and not one_mistake:
            yield ("fail", *pair("universe", a, b))


def reference_known(show):
    """fail: a site, universe or same_as that nothing in the show defines."""
    sites = {site["id"] for site in show.sites}
    universes = {universe["id"] for universe in show.universes}
    fixtures = {fixture["id"] for fixture in show.fixtures}
    for transmitter in show.transmitters:
        if transmitter["site"] not in sites:
            yield "fail", ref("transmitter", transmitter), ()
        for _ in {lane["universe"] for lane in transmitter.get("lanes", [])} - universes:
            yield "fail", ref("transmitter", transmitter), ()
    for fixture in show.judged():
        if fixture["site"] not in sites:
            yield "fail", ref("fixture", fixture), ()
        if fixture.get("universe") is not None and fixture["universe"] not in universes:
            yield "fail", ref("fixture", fixture), ()
        if fixture.get("same_as") is not None and fixture["same_as"] not in fixtures:
            yield "fail", ref("fixture", fixture), ()


def lane_exists(show):
    """fail: a lane above what the transmitter's radios and air mode give; lane 0 does not exist."""
    for transmitter in show.transmitters:
        for _ in {e["lane"] for e in transmitter.get("lanes", []) if not 1 <= e["lane"] <= show.top(transmitter)}:
            yield "fail", ref("transmitter", transmitter), ()


def lane_shared(show):
    """fail: one lane is given two universes, or one universe twice."""
    for transmitter in show.transmitters:
        for universes in show.lanes(transmitter).values():
            if len(universes) > 1:
                yield "fail", ref("transmitter", transmitter), ()


def universe_carried(show):
    """fail: a universe with wireless fixtures that no lane carries; spares carry nothing."""
    carried = {universe for transmitter in show.transmitters if not transmitter.get("spare")
               for universes in show.lanes(transmitter).values() for universe in universes}
    needed = {fixture["universe"] for fixture in show.fixtures
              if fixture.get("universe") is not None and fixture.get("code") is not None and not fixture.get("wired")}
    for identity in {universe["id"] for universe in show.universes} & needed - carried:
        yield "fail", ("universe", identity), ()


def landing(show):
    """fail: code, air mode and lane land a fixture nowhere, on two transmitters, or in another universe than its patch."""
    for fixture in show.judged():
        if fixture.get("universe") is None or not show.keyed(fixture):
            continue
        if not good_code(fixture["code"]) or fixture["air"] not in show.type_of(fixture).get("airs", []):
            continue
        lands, matches = show.lands(fixture), show.matches(fixture)
        if len(lands) > 1:
            yield "fail", ref("fixture", fixture), ()
        elif not lands:
            if len(matches) != 1:
                yield "fail", ref("fixture", fixture), ()
        else:
            universes = show.lanes(lands[0]).get(fixture["lane"], [])
            if len(universes) > 1:
                continue
            if universes != [fixture["universe"]]:
                yield "fail", ref("fixture", fixture), ()


def code_form(show):
    """fail: a join code that is not eight decimal digits."""
    for kind in ("transmitter", "fixture"):
        for thing in show.transmitters if kind == "transmitter" else show.judged():
            if thing.get("code") is not None and not good_code(thing["code"]):
                yield "fail", ref(kind, thing), ()


def code_guessable(show):
    """warn: a transmitter's code is all one digit, or a run up or down that does not wrap."""
    for transmitter in show.transmitters:
        code = transmitter.get("code")
        if code is not None and good_code(code):
            steps = {int(b) - int(a) for a, b in zip(code, code[1:])}
            if steps in ({0}, {1}, {-1}):
                yield "warn", ref("transmitter", transmitter), ()


def code_clash(show):
    """fail: two transmitters with one code within either's reach, or without positions on one site.

    warn: their reaches overlap, or touch.
    """
    on_air = [t for t in show.transmitters if t.get("code") is not None and not t.get("spare")]
    for a, b in combinations(on_air, 2):
        if a["code"] != b["code"]:
            continue
        square = squared_distance(a, b)
        if in_reach(a, b) or in_reach(b, a):
            yield ("fail", *pair("transmitter", a, b))
        elif square is not None and a.get("reach") is not None and b.get("reach") is not None \
                and within(square, a["reach"] + b["reach"]):
            yield ("warn", *pair("transmitter", a, b))


def air_supported(show):
    """fail: an air mode that the fixture's type or the transmitter does not have."""
    for transmitter in show.transmitters:
        if transmitter["air"] not in transmitter["airs"]:
            yield "fail", ref("transmitter", transmitter), ()
    for fixture in show.judged():
        if fixture.get("air") is not None and fixture["air"] not in show.type_of(fixture).get("airs", []):
            yield "fail", ref("fixture", fixture), ()


def firmware_floor(show):
    """fail: firmware below what the type needs for its air mode; number by number, missing parts 0."""
    for fixture in show.judged():
        floor = show.type_of(fixture).get("firmware_floor", {}).get(fixture.get("air"))
        if floor is None or fixture.get("firmware") is None:
            continue
        have, need = ([int(part) for part in text.split(".")] for text in (fixture["firmware"], floor))
        length = max(len(have), len(need))
        if have + [0] * (length - len(have)) < need + [0] * (length - len(need)):
            yield "fail", ref("fixture", fixture), ()


def quiet_kept(show):
    """fail: a quiet band that a transmitter's keep_out leaves open, if it is on the air; a spare is judged too."""
    for transmitter in show.transmitters:
        if transmitter.get("code") is None:
            continue
        out = out_of_hops(transmitter)
        for band in show.data.get("quiet", []):
            if any(band["from"] <= c <= band["to"] and c not in out for c in CHANNELS):
                yield "fail", ref("transmitter", transmitter), ()


def hop_count(show):
    """fail: fewer than 15 of the 79 one-MHz channels 2402..2480 left after keep_out."""
    for transmitter in show.transmitters:
        if transmitter.get("code") is not None and len(CHANNELS) - len(out_of_hops(transmitter)) < HOPS_MIN:
            yield "fail", ref("transmitter", transmitter), ()


def region_power(show):
    """warn: EIRP above the region's 2.4 GHz limit."""
    limit = limits().get(show.data.get("region"))
    for transmitter in show.transmitters:
        if limit is not None and transmitter.get("eirp_dbm") is not None and transmitter["eirp_dbm"] > limit:
            yield "warn", ref("transmitter", transmitter), ()


def in_reach_rule(show):
    """warn: a fixture beyond its transmitter's reach."""
    for fixture in show.judged():
        transmitter = show.transmitter_of(fixture)
        if transmitter is not None and not in_reach(transmitter, fixture):
            yield "warn", ref("fixture", fixture), ()


def margin_db(show, transmitter, fixture):
    square = squared_distance(transmitter, fixture)
    if square is None or transmitter.get("eirp_dbm") is None:
        return None
    distance_m = max(math.sqrt(square), NEAREST_M)
    loss = 20 * math.log10(4 * math.pi * distance_m * LOSS_HZ / LIGHT_M_S)
    sensitivity = show.type_of(fixture).get("sensitivity_dbm", SENSITIVITY_DBM)
    return float(transmitter["eirp_dbm"]) - loss - float(sensitivity)


def link_margin(show):
    """warn: EIRP - free-space loss - receiver sensitivity under 10 dB."""
    for fixture in show.judged():
        transmitter = show.transmitter_of(fixture)
        margin = margin_db(show, transmitter, fixture) if transmitter is not None else None
        if margin is None or margin >= MARGIN_DB + MARGIN_UNSURE_DB:
            continue
        severity = "warn" if margin < MARGIN_DB - MARGIN_UNSURE_DB else "unsure"
        yield severity, ref("fixture", fixture), ()


def label_form(show):
    """warn: a universe label missing, repeated or over 32 characters (code points)."""
    for universe in show.universes:
        if not universe.get("label") or len(universe["label"]) > LABEL_CHARACTERS:
            yield "warn", ref("universe", universe), ()
    for a, b in combinations(show.universes, 2):
        if a.get("label") and a.get("label") == b.get("label"):
            yield ("warn", *pair("universe", a, b))


def used_types(show):
    used = {fixture["type"] for fixture in show.fixtures}
    return [kind for identity, kind in show.types_by_id.items() if identity in used]


def battery_lasts(show):
    """warn: battery_wh / (watts * call.level / 100) shorter than call.hours; exactly enough is clean."""
    call = show.data.get("call")
    if call is None or call.get("hours") is None:
        return
    for kind in used_types(show):
        if kind.get("watts") is None or kind.get("battery_wh") is None:
            continue
        if kind["battery_wh"] * 100 < kind["watts"] * call.get("level", 100) * call["hours"]:
            yield "warn", ref("type", kind), ()


def hazard_marked(show):
    """note: what sequences will never drive unarmed."""
    for kind in used_types(show):
        if kind.get("hazard") is not None:
            yield "note", ref("type", kind), ()


RULES = {
    "ids-unique": ids_unique, "type-known": type_known, "address-fits": address_fits, "address-overlap": address_overlap,
    "universe-number": universe_number, "reference-known": reference_known, "lane-exists": lane_exists,
    "lane-shared": lane_shared, "universe-carried": universe_carried, "landing": landing, "code-form": code_form,
    "code-guessable": code_guessable, "code-clash": code_clash, "air-supported": air_supported,
    "firmware-floor": firmware_floor, "quiet-kept": quiet_kept, "hop-count": hop_count, "region-power": region_power,
    "in-reach": in_reach_rule, "link-margin": link_margin, "label-form": label_form,
    "battery-lasts": battery_lasts, "hazard-marked": hazard_marked,
}

# spare-ready asks the planner, which has oracles of its own (tests/plan, tests/rules/test_spare_ready.c). It runs over these
# shows as well, and may say what it likes.
ELSEWHERE = ("spare-ready",)


def findings(data, before):
    """Every finding as (rule, severity, subject, others), in the order in which a report gives them.

    `before` is what is kept of the show before: see drift.findings().
    """
    show = Show(data)
    found = [(rule, *finding) for rule, run in RULES.items() for finding in run(show)]
    found += [(DRIFT, *finding) for finding in drift.findings(before, data)]
    return sorted(found, key=order)


def order(finding):
    """Rule, then subject, then others: kinds as KINDS has them, numbers by value, names by octets."""
    def place(thing):
        kind, identity = thing
        return KINDS.index(kind), identity.encode() if isinstance(identity, str) else identity
    rule, _, subject, others = finding
    return rule.encode(), place(subject), tuple(place(other) for other in others)
