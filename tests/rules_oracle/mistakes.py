"""Mistakes, one function each: take the generator and a show, and spoil the show. Some of them only go up to a border."""
from decimal import Decimal

from values import (AIRS, BAD_CODES, EIRP, FIRMWARE, GUESSABLE, LABEL_LETTERS, NEARLY_GUESSABLE, footprint, top)


def label(g, length):
    return "".join(g.r.choice(LABEL_LETTERS) for _ in range(length))


def repeat_id(g, show):
    things = show[g.r.choice(("sites", "types", "transmitters", "universes", "fixtures"))]
    for _ in range(g.r.choice((1, 1, 2))):
        copy = dict(g.r.choice(things))
        copy["id"] = g.r.choice(things)["id"]
        things.insert(g.r.randint(0, len(things)), copy)


def repeat_often(g, show):
    if len(show["fixtures"]) > 25:
        for fixture in show["fixtures"][:g.r.randint(20, 24)]:
            fixture["id"] = 7


def unknown_type(g, show):
    g.fixture(show)["type"] = g.r.choice(("gone", "Batten", "tube2"))


def unknown_mode(g, show):
    g.fixture(show)["mode"] = g.r.choice(("m3", "M0", "gone"))


def odd_address(g, show):
    g.fixture(show)["address"] = g.r.choice((0, -1, -20, 1, 500, 511, 512, 513, 600, 2147483647, -2147483648))


def last_slot(g, show):
    fixture = g.fixture(show)
    for kind in show["types"]:
        for mode in kind["modes"]:
            if (kind["id"], mode["id"]) == (fixture["type"], fixture["mode"]):
                fixture["address"] = max(513 - footprint(mode), -99) + g.r.choice((0, 0, 1))


def at_the_ends(g, show):
    """Several fixtures about slot 512, or about slot 1, of one universe: some meet there, some only where no slot is."""
    universe, (low, high) = g.universe(show)["id"], g.r.choice(((506, 514), (-6, 3)))
    for fixture in g.r.sample(show["fixtures"], min(3, len(show["fixtures"]))):
        fixture["universe"], fixture["address"] = universe, g.r.randint(low, high)


def overlap(g, show):
    a, b = g.fixture(show), g.fixture(show)
    if a.get("universe") is not None and a.get("address") is not None:
        apart = g.r.choice((0, 0, 0, 1, -1, 4)) if abs(a["address"]) < 1000 else 0
        b["universe"], b["address"] = a["universe"], a["address"] + apart
        for key in ("code", "air", "lane", "site"):
            if key in a and g.chance(0.9):
                b[key] = a[key]
        if g.chance(0.6):
            b["same_as"] = a["id"]


def chain(g, show):
    group = g.r.sample(show["fixtures"], min(len(show["fixtures"]), g.r.randint(3, 4)))
    root = group[0]
    if root.get("universe") is None or root.get("address") is None:
        return
    linked = g.chance(0.5)
    if g.chance(0.3):
        root["same_as"] = g.r.choice((g.fixture(show)["id"], 9999))
    for before, fixture in zip(group, group[1:]):
        fixture.update({key: root[key] for key in ("universe", "address", "code", "air", "lane", "site") if key in root})
        if g.chance(0.85):
            fixture["same_as"] = (before if linked else root)["id"] if g.chance(0.9) else 9999


def same_as_unknown(g, show):
    g.fixture(show)["same_as"] = g.r.choice((9999, 1, g.fixture(show)["id"]))


def odd_wire(g, show):
    g.universe(show)["wire"] = g.r.choice((0, -1, 1, 63999, 64000, 64214, 65535, g.universe(show)["id"]))


def odd_universe(g, show):
    universe = g.universe(show)
    number = g.r.choice((0, -5, 63999, 64000, 70000))
    old = universe["id"]
    universe["id"] = number
    for thing in show["fixtures"] + [lane for t in show["transmitters"] for lane in t["lanes"]]:
        if thing.get("universe") == old and g.chance(0.9):
            thing["universe"] = number


def same_wire(g, show):
    wire = g.r.choice((g.universe(show)["id"], 5000))
    for universe in g.r.sample(show["universes"], min(3, len(show["universes"]))):
        universe["wire"] = wire


def unknown_site(g, show):
    for _ in range(g.r.choice((1, 1, 4))):
        g.r.choice((g.fixture, g.transmitter))(show)["site"] = g.r.choice(("gone", "gone", "QUAY", ""))


def unknown_universe(g, show):
    if g.chance(0.5):
        g.fixture(show)["universe"] = g.r.choice((888, 889))
        return
    lanes = g.transmitter(show)["lanes"]
    for entry in g.r.sample(lanes, min(len(lanes), g.r.choice((1, 2, 3)))):
        entry["universe"] = g.r.choice((888, 889))


def drop_universe(g, show):
    if len(show["universes"]) > 1:
        show["universes"].remove(g.universe(show))


def odd_lane(g, show):
    transmitter = g.transmitter(show)
    highest = top(transmitter)
    lane = g.r.choice((0, -1, highest, highest + 1, highest + 1, 99, 2147483647, -2147483648))
    for _ in range(g.r.choice((1, 1, 2))):
        transmitter["lanes"].append({"lane": lane, "universe": g.universe(show)["id"]})


def fewer_radios(g, show):
    g.transmitter(show)["radios"] = g.r.choice((0, -1, 1, 1, 2147483647, -2147483648))


def shared_lane(g, show):
    transmitter = g.transmitter(show)
    if transmitter["lanes"]:
        entry = g.r.choice(transmitter["lanes"])
        for _ in range(g.r.choice((1, 1, 2))):
            universe = g.r.choice((entry["universe"], g.universe(show)["id"]))
            transmitter["lanes"].append({"lane": entry["lane"], "universe": universe})


def lost_lane(g, show):
    transmitter = g.transmitter(show)
    if transmitter["lanes"]:
        transmitter["lanes"].remove(g.r.choice(transmitter["lanes"]))


def other_lane(g, show):
    g.fixture(show)["lane"] = g.r.choice((0, -1, 1, 1, 2, 2, 3, 4, 8, 17, 2147483647))


def other_code(g, show):
    g.fixture(show)["code"] = g.r.choice((g.code(), g.transmitter(show).get("code") or g.code()))


def other_air(g, show):
    fixture = g.fixture(show)
    fixture["air"] = g.r.choice(AIRS)


def other_universe(g, show):
    g.fixture(show)["universe"] = g.universe(show)["id"]


def absent(g, show):
    g.fixture(show).pop(g.r.choice(("universe", "address", "code", "air", "lane", "pos", "firmware")), None)


def wired(g, show):
    g.fixture(show)["wired"] = g.chance(0.8)


def no_code(g, show):
    g.transmitter(show).pop("code", None)


def recode(g, show, codes):
    """Another code for a transmitter, keyed into most of its fixtures as well."""
    transmitter, code = g.transmitter(show), g.r.choice(codes)
    for fixture in show["fixtures"]:
        if fixture.get("code") == transmitter.get("code") and fixture.get("code") is not None and g.chance(0.7):
            fixture["code"] = code
    transmitter["code"] = code


def bad_code(g, show):
    if g.chance(0.5):
        recode(g, show, BAD_CODES)
    else:
        g.fixture(show)["code"] = g.r.choice(BAD_CODES)


def guessable(g, show):
    recode(g, show, GUESSABLE + NEARLY_GUESSABLE)


def clash(g, show):
    a, b = g.transmitter(show), g.transmitter(show)
    if a.get("code") is None:
        a["code"] = g.code()
    b["code"] = a["code"]
    if g.chance(0.4):
        b["air"], b["airs"], b["radios"] = a["air"], list(AIRS), a["radios"]


def touching(g, show):
    """Two transmitters of one code whose distance is exactly the sum of their reaches, one reach, or a little off."""
    if len(show["transmitters"]) < 2:
        return
    a, b = g.r.sample(show["transmitters"], 2)
    a["code"] = b["code"] = g.code()
    a["pos"], b["pos"] = [g.r.randint(0, 50), 0, 0], [0, 0, 0]
    b["pos"] = [a["pos"][0] + 30, 40, 0]
    a["reach"], b["reach"] = g.r.choice(((20, 30), (25, 25), (10, 50), (50, 10), (20, Decimal("29.5")), (0, 0), (1, 49)))
    if g.chance(0.3):
        g.r.choice((a, b)).pop(g.r.choice(("reach", "pos")))


def edge_of_reach(g, show):
    fixture, transmitter = g.fixture(show), g.transmitter(show)
    if transmitter["lanes"] and transmitter.get("code"):
        lane = g.r.choice(transmitter["lanes"])
        fixture.update(code=transmitter["code"], air=transmitter["air"], lane=lane["lane"], universe=lane["universe"])
        transmitter["pos"], transmitter["reach"] = [0, 0, 0], g.r.choice((Decimal("12.5"), 50, 0))
        z = g.r.choice((0, Decimal("0.5")))
        fixture["pos"] = list(g.r.choice(((0, Decimal("7.5"), 10), (30, 40, z), (0, 0, z), (-30, -40, z))))


def far_fixture(g, show):
    fixture = g.fixture(show)
    fixture["pos"] = [g.r.randint(0, 2000), g.r.randint(0, 2000), 0]


def other_site(g, show):
    g.fixture(show)["site"] = g.r.choice(show["sites"])["id"]


def tenths(g, show):
    """A distance that is exact in tenths of a metre and not in binary fractions."""
    transmitter, fixture = g.transmitter(show), g.fixture(show)
    start = Decimal(g.r.randint(1, 99)) / 10
    reach = Decimal(g.r.randint(1, 99)) / 10
    transmitter["pos"], transmitter["reach"] = [start, 0, 0], reach
    if transmitter["lanes"] and transmitter.get("code"):
        lane = transmitter["lanes"][0]
        fixture.update(code=transmitter["code"], air=transmitter["air"], lane=lane["lane"], universe=lane["universe"])
    fixture["pos"] = [start + reach, 0, 0]


def airs_of_type(g, show):
    g.r.choice(show["types"])["airs"] = list(g.r.choice((("single",), ("dual",), ())))


def air_of_transmitter(g, show):
    g.transmitter(show)["air"] = g.r.choice(AIRS)


def firmware(g, show):
    for fixture in g.r.sample(show["fixtures"], min(6, len(show["fixtures"]))):
        fixture["firmware"] = g.r.choice(FIRMWARE)
    g.r.choice(show["types"])["firmware_floor"] = {air: g.r.choice(FIRMWARE) for air in AIRS}


def keep_out_edge(g, show):
    transmitter = g.transmitter(show)
    if transmitter["keep_out"]:
        band = g.r.choice(transmitter["keep_out"])
        key = g.r.choice(("from", "to"))
        moved = band[key] + Decimal(g.r.choice(("0.5", "1", "-0.5", "-1", "0.01", "-0.01")))
        if (key == "from" and moved <= band["to"]) or (key == "to" and moved >= band["from"]):
            band[key] = moved


def keep_out_halves(g, show):
    """One quiet band kept by two pieces that meet, overlap or leave a channel between them."""
    band = {"from": Decimal(2410), "to": Decimal(2430), "who": "camera"}
    if len(show["quiet"]) < 4:
        show["quiet"].append(band)
    low, high = g.r.choice(((2420, 2421), (2420, 2422), (2420, 2420), ("2420.9", "2421.1"), ("2420.5", "2420.6")))
    halves = ((2410, low), (high, 2430))
    g.transmitter(show)["keep_out"] = [{"from": Decimal(a), "to": Decimal(b)} for a, b in halves]


def few_hops(g, show):
    last = 2480 - g.r.choice((0, 1, 14, 14, 15, 15, 16)) + Decimal(g.r.choice(("0", "0.5", "0.999")))
    g.transmitter(show)["keep_out"] = [{"from": Decimal(2400), "to": last}]


def eirp(g, show):
    g.transmitter(show)["eirp_dbm"] = Decimal(g.r.choice(EIRP))


def unknown_region(g, show):
    show["region"] = g.r.choice(("ZZ", "XX", "gb"))


def odd_label(g, show):
    universe = g.universe(show)
    choice = g.r.randint(0, 3)
    if choice == 0:
        universe.pop("label", None)
    elif choice == 1:
        universe["label"] = ""
    elif choice == 2:
        universe["label"] = label(g, g.r.choice((1, 31, 32, 32, 33, 33, 60)))
    else:
        text = label(g, g.r.choice((5, 33)))
        for one in g.r.sample(show["universes"], min(g.r.randint(2, 3), len(show["universes"]))):
            one["label"] = text


def make_spare(g, show):
    spare = g.transmitter(show)
    spare["spare"] = True
    if g.chance(0.6):
        spare.update(airs=list(AIRS), radios=g.r.choice((8, 8, 1, 0, -1)), reach=500, pos=[0, 0, 0])
    if g.chance(0.3):
        g.transmitter(show)["lanes"] = []


def no_spare(g, show):
    for transmitter in show["transmitters"]:
        transmitter["spare"] = False


def unused_type(g, show):
    copy = dict(g.r.choice(show["types"]), id=g.r.choice(("unused", "zz")), hazard="motion", watts=500)
    show["types"].append(copy)


def repeat_mode(g, show):
    modes = g.r.choice(show["types"])["modes"]
    modes.append(dict(g.mode(9), id=modes[0]["id"]))


MISTAKES = (
    repeat_id, repeat_often, unknown_type, unknown_mode, odd_address, last_slot, at_the_ends, overlap, overlap, chain,
    same_as_unknown, odd_wire, odd_universe, same_wire, unknown_site, unknown_universe, drop_universe, odd_lane,
    fewer_radios, shared_lane, lost_lane, other_lane, other_code, other_air, other_universe, absent, absent, wired,
    no_code, bad_code, guessable, clash, clash, touching, touching, edge_of_reach, far_fixture, other_site, tenths,
    airs_of_type, air_of_transmitter, firmware, keep_out_edge, keep_out_halves, few_hops, eirp, unknown_region,
    odd_label, make_spare, make_spare, no_spare, unused_type, repeat_mode,
)
