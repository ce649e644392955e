"""The three ways to the least cost of a swap that are not rigcall's, held against each other: rigs worked out by hand, every
rig tried (brute.py), and the integer program (program.py).

usage: reference_test.py [--tiny COUNT] [--first SEED]
"""
import argparse
import collections
import os
import shutil
import sys

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import brute      # noqa: E402
import cases      # noqa: E402
import program    # noqa: E402
import rig        # noqa: E402

BRUTE_MOST = 20000
BOTH = {"both": rig.Type("both", ["single", "dual"], {}), "late": rig.Type("late", ["single", "dual"], {"dual": "3.1"})}


def tx(name, x, **more):
    base = {"site": "s", "pos": (x, 0, 0), "reach": 50.0, "radios": 1, "airs": ["single", "dual"], "air": "dual",
            "code": None, "spare": False, "lanes": {}, "keep_out": []}
    return rig.Transmitter(name, **{**base, **more})


def lamp(number, x, universe, code, lane, **more):
    base = {"type": "both", "site": "s", "pos": (x, 0, 0), "universe": universe, "address": number, "code": code,
            "air": "dual", "lane": lane, "firmware": None}
    return rig.Fixture(number, **{**base, **more})


def by_hand():
    """(what it shows, transmitters, fixtures, quiet, asked, costs): costs are worked out from the definitions of a swap."""
    lost = tx("T1", 0, code="40718263", lanes={1: 1, 2: 2})
    lamps = [lamp(1, 5, 1, "40718263", 1), lamp(2, 6, 2, "40718263", 2)]
    out = rig.Asked(["T1"], [], False)
    yield ("an empty spare takes code and two lanes: no touch, three settings (common practice)",
           [lost, tx("T9", 0, spare=True)], lamps, [], out, (0, 0, 0, 3))
    yield ("and the quiet band too: four settings",
           [lost, tx("T9", 0, spare=True)], lamps, [(2402, 2423)], out, (0, 0, 0, 4))
    yield ("a quiet band that leaves 14 channels: nobody may get a first lane",
           [lost, tx("T9", 0, spare=True)], lamps, [(2402, 2466)], out, (2, 0, 0, 0))
    yield ("a quiet band that leaves 15 channels",
           [lost, tx("T9", 0, spare=True)], lamps, [(2402, 2465)], out, (0, 0, 0, 4))
    yield ("a spare that stands ready with code and lanes: nothing to set",
           [lost, tx("T9", 0, spare=True, code="40718263", lanes={1: 1, 2: 2})], lamps, [], out, (0, 0, 0, 0))
    yield ("a spare of air mode single carries one of two universes: it changes to dual for one setting more",
           [lost, tx("T9", 0, spare=True, air="single")], lamps, [], out, (0, 0, 0, 4))
    yield ("and if it cannot, one fixture stays dark; the other is touched for its air mode, on any code of the spare",
           [lost, tx("T9", 0, spare=True, air="single", airs=["single"], code="51827364")], lamps, [], out, (1, 0, 1, 1))
    yield ("on a live transmitter with a lane free: one touch, one setting",
           [lost, tx("T2", 0, code="51827364", lanes={1: 3})], lamps[:1] + [lamp(3, 7, 3, "51827364", 1)], [], out,
           (0, 0, 1, 1))
    yield ("beyond reach of all that remain",
           [lost, tx("T9", 100, spare=True)], lamps, [], out, (2, 0, 0, 0))
    old = [lamp(1, 5, 1, "40718263", 1, type="late", firmware="3.0", air="single")]
    yield ("firmware below the floor of dual stays in single: code, air mode and lane of the spare are set, no touch",
           [tx("T1", 0, code="40718263", air="single", lanes={1: 1}), tx("T9", 0, spare=True)], old, [], out, (0, 0, 0, 3))
    yield ("and stays dark on a spare that has only dual",
           [tx("T1", 0, code="40718263", air="single", lanes={1: 1}), tx("T9", 0, spare=True, airs=["dual"])], old, [], out,
           (1, 0, 0, 0))
    chain = [tx("T1", 0, airs=["single"], air="single", code="40718263", lanes={1: 1}),
             tx("T2", 45, airs=["single"], air="single", code="51827364", lanes={1: 2}),
             tx("T3", 90, airs=["single"], air="single", code="62738495")]
    both = [lamp(1, 0, 1, "40718263", 1, air="single"), lamp(2, 45, 2, "51827364", 1, air="single")]
    yield ("what is lost pushes a working universe on to T3: T2 takes T1's code, T3 takes T2's: no touch, four settings",
           chain, both, [], out, (0, 1, 0, 4))
    yield ("not with --keep-working", chain, both, [], rig.Asked(["T1"], [], True), (1, 0, 0, 0))
    yield ("nor if T3 may not change", chain, both, [], rig.Asked(["T1"], ["T2"], False), (1, 0, 0, 0))
    yield ("T2 cannot take T1's code within reach of T3, which has it: one touch, T2's code and lane set",
           [tx("T1", 0, code="40718263", air="single", airs=["single"], lanes={1: 1}),
            tx("T2", 40, spare=True, air="single", airs=["single"]),
            tx("T3", 80, code="40718263", air="single", airs=["single"], lanes={1: 2})],
           [lamp(1, 0, 1, "40718263", 1, air="single"), lamp(2, 120, 2, "40718263", 1, air="single")], [], out, (0, 0, 1, 2))
    yield ("three lanes on to two: universe 2 joins by T1's code, the two of universe 3 are re-keyed to lane 1, and the one "
           "of universe 1, dark, would join them there: parked",
           [tx("T1", 0, code="40718263", air="single", airs=["single"], radios=3, lanes={1: 1, 2: 2, 3: 3}),
            tx("T9", 0, spare=True, air="single", airs=["single"], radios=2)],
           [lamp(n, 10, u, "40718263", u, air="single") for n, u in ((1, 1), (2, 2), (3, 2), (4, 2), (5, 3), (6, 3))],
           [], out, (1, 0, 3, 3))


def check_by_hand():
    bad = 0
    for words, transmitters, fixtures, quiet, asked, want in by_hand():
        universes = sorted({f.universe for f in fixtures})
        show = rig.Show("by hand", [("s", (0, 0))], quiet, BOTH, transmitters, universes, fixtures)
        found, after = program.optimum(show, asked)
        tried, _ = brute.optimum(show, asked)
        _, wrong = rig.judge(show, asked, after) if after else (None, ["no plan"])
        if not found == tried == want or wrong:
            bad += 1
            print(f"{words}: by hand {want}, glpsol {found}, every rig tried {tried} {wrong}")
    return bad


def check_tiny(count, first):
    """Generated rigs small enough to try every one."""
    bad, kinds = 0, collections.Counter()
    seed = first
    while kinds["rigs"] < count:
        show, asked = cases.make(seed, "tiny")
        seed += 1
        if brute.plan_size(show, asked) > BRUTE_MOST:
            continue
        kinds["rigs"] += 1
        found, after = program.optimum(show, asked, ties=True)
        tried, places = brute.optimum(show, asked)
        costs, wrong = rig.judge(show, asked, after) if after else (None, [])
        if found != tried or wrong or (costs and costs.as_tuple() != found):
            bad += 1
            print(f"tiny {seed - 1}: glpsol {found}, recomputed {costs}, every rig tried {tried} {wrong}")
        elif after and rig.places(show, asked, after) != places:
            bad += 1
            print(f"tiny {seed - 1}: ties: glpsol {rig.places(show, asked, after)}, every rig tried {places}")
        kinds.update(n for n, c in zip(("dark", "disturbed", "touches", "settings"), found or ()) if c)
    print(dict(kinds))
    return bad


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--tiny", type=int, default=60)
    parser.add_argument("--first", type=int, default=0)
    options = parser.parse_args()
    if not shutil.which("glpsol"):
        print("SKIP: no glpsol (Debian glpk-utils)")
        return 77
    bad = check_by_hand() + check_tiny(options.tiny, options.first)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
