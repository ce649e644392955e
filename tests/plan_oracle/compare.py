"""Hold `rigcall swap` against glpsol on generated cases.

usage: compare.py RIGCALL [--cases tiny=60,small=150,...] [--first SEED] [--least COUNT] [--ties SIZES] [--brute]
       [--write EVERY] [--keep FOLDER]

Of every case: dark, disturbed, touches and settings of rigcall equal those of the integer program; the solution of the
program costs that when it is applied to the rig and everything is computed again, and so do the steps of rigcall; no rule of
a swap is broken. Of cases of the sizes SIZES (tiny,small) the answer is also the one with the least list of (transmitter, lane)
over the moved universes: glpsol minimises it place by place with the costs held.
"""
import argparse
import collections
import json
import os
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import brute      # noqa: E402
import cases      # noqa: E402
import program    # noqa: E402
import rig        # noqa: E402
import written    # noqa: E402

SKIPPED = 77
BRUTE_MOST = 20000               # rigs to look at, so that a tiny case takes about a second at most


def arguments(asked):
    words = [w for t in asked.out for w in ("--out", t)] + [w for t in asked.only for w in ("--in", t)]
    return words + (["--keep-working"] if asked.keep_working else [])


def run_swap(rigcall, path, asked, *more):
    done = subprocess.run([rigcall, "swap", path, *arguments(asked), "--format", "json", *more],
                          capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1) or not done.stdout.startswith("{"):
        raise AssertionError(f"exit {done.returncode}: {done.stderr.strip()} {done.stdout[:200]}")
    answer = json.loads(done.stdout)
    if done.returncode != (1 if answer["dark"] or answer.get("refused") else 0):
        raise AssertionError(f"exit {done.returncode} with dark {answer['dark']}")
    return answer


def costs_of(answer):
    return tuple(answer[name] for name in ("dark", "disturbed", "touches", "settings"))


# ---- the steps of a plan, carried out here ----

def expect(value, found, step):
    if value != found:
        raise AssertionError(f"step {step} says from {found!r}, the rig has {value!r}")


def bands_of(text):
    """"2402-2423 2450-2460" as pairs."""
    return [tuple(float(n) for n in band.split("-")) for band in (text or "").split()]


def lanes_of(text):
    return {int(a): int(b) for a, b in (pair.split(":") for pair in (text or "").split())}


def step_transmitter(t, step, lost):
    name, old, new = step["field"], step["from"], step["to"]
    if (step["do"] == "clear") != lost:
        raise AssertionError(f"step {step}: wrong do")
    if name in ("code", "air"):
        expect(getattr(t, name), old, step)
        setattr(t, name, new)
    elif name == "keep_out":
        expect([tuple(map(float, b)) for b in t.keep_out], bands_of(old), step)
        t.keep_out = bands_of(new)
    elif name.startswith("lane "):
        lane = int(name[5:])
        expect(t.lanes.get(lane), old, step)
        t.lanes.pop(lane, None)
        if new is not None:
            t.lanes[lane] = new
            t.spare = False
    elif name == "lanes" and lost and new is None:
        expect(t.lanes, lanes_of(old), step)
        t.lanes = {}
    elif name == "spare" and new is None:
        expect(t.spare, old in (True, "true"), step)
        t.spare = False
    else:
        raise AssertionError(f"step {step}: unknown field")


def carry_out(show, asked, steps):
    """The rig after the steps; each says truly what was there, changes something, and stands in a safe order."""
    after = show.copy()
    transmitters = {t.id: t for t in after.transmitters}
    fixtures = {f.id: f for f in after.fixtures}
    fixtures_begun, seen = False, set()
    for step in steps:
        mark = (step["kind"], step["id"], step["field"])
        if step["from"] == step["to"] or mark in seen or not step["why"]:
            raise AssertionError(f"step {step} changes nothing, is said twice or does not say why")
        seen.add(mark)
        if step["kind"] == "transmitter":
            if fixtures_begun:
                raise AssertionError(f"step {step} comes after a fixture's")
            step_transmitter(transmitters[step["id"]], step, step["id"] in asked.out)
        else:
            fixtures_begun = True
            if step["kind"] != "fixture" or step["do"] != "set" or step["field"] not in ("code", "air", "lane"):
                raise AssertionError(f"step {step} is none of a swap")
            fixture = fixtures[step["id"]]
            expect(getattr(fixture, step["field"]), step["from"], step)
            setattr(fixture, step["field"], step["to"])
    return after


def changed_ids(show, asked, after):
    """What the JSON lists should hold: fixtures touched, dark and disturbed."""
    lost, working = rig.sort_fixtures(show, asked)
    touched, dark, disturbed = [], [], []
    for before, new in zip(show.fixtures, after.fixtures):
        state, where = rig.landing(after, new)
        moved = before.key() != new.key()
        if moved:
            touched.append(new.id)
        if new.id in lost and state != "right":
            dark.append(new.id)
        if new.id in working and (moved or where != working[new.id]):
            disturbed.append(new.id)
    return {"fixtures_touched": sorted(touched), "fixtures_dark": sorted(dark), "fixtures_disturbed": sorted(disturbed)}


def check_steps(show, asked, answer):
    after = carry_out(show, asked, answer["steps"])
    for t in show.transmitters:
        new = next(n for n in after.transmitters if n.id == t.id)
        if t.id in asked.out and (new.code or new.lanes):
            raise AssertionError(f"no step clears {t.id}")
    found, wrong = rig.judge(show, asked, after)
    if wrong:
        raise AssertionError(f"the plan breaks rules: {'; '.join(wrong)}")
    if found.as_tuple() != costs_of(answer):
        raise AssertionError(f"the steps cost {found.as_tuple()}, the plan says {costs_of(answer)}")
    for name, ids in changed_ids(show, asked, after).items():
        if answer[name] != ids:
            raise AssertionError(f"{name} is {answer[name]}, by the steps {ids}")
    return after


def check_refused(show, asked, answer, want):
    """A plan is refused only where nothing can be lit: no lost fixture can, or none that is keyed to what is lost was."""
    lost, _ = rig.sort_fixtures(show, asked)
    codes = {t.code for t in show.transmitters if t.id in asked.out}
    keyed = any(f.code in codes for f in show.fixtures if f.code)
    if costs_of(answer) != want or want != (len(lost), 0, 0, 0) or not keyed or answer["steps"]:
        raise AssertionError(f"glpsol {want}, rigcall {costs_of(answer)} refused: {answer['refused']}")


# ---- cases ----

def reference(show, asked, with_brute, ties):
    """@return (least costs by the integer program, checked; the least list of places), or (None, None): no plan meets the rules"""
    costs, after = program.optimum(show, asked, ties=ties)
    if after:
        found, wrong = rig.judge(show, asked, after)
        if wrong or found.as_tuple() != costs:
            raise AssertionError(f"the integer program is wrong: {costs}, recomputed {found.as_tuple()}, {wrong}")
    if with_brute and brute.plan_size(show, asked) <= BRUTE_MOST:
        every, _ = brute.optimum(show, asked)
        if every != costs:
            raise AssertionError(f"the integer program says {costs}, every rig tried gives {every}")
    return costs, rig.places(show, asked, after) if after else None


def compare(rigcall, path, show, asked, options, write, ties):
    """@return words for what the case holds; raises AssertionError where the two differ"""
    with open(path, "w", encoding="utf-8") as file:
        file.write(cases.as_text(show))
    want, places = reference(show, asked, options.brute, ties)
    answer = run_swap(rigcall, path, asked)
    if answer.get("refused") and want is None:
        return ["refused"]
    if answer.get("refused"):
        check_refused(show, asked, answer, want)
        return ["nothing lit"]
    if answer.get("proved") is False:
        raise AssertionError("the plan is not proved least")
    if costs_of(answer) != want:
        raise AssertionError(f"(dark, disturbed, touches, settings): glpsol {want}, rigcall {costs_of(answer)}")
    after = check_steps(show, asked, answer)
    if ties and rig.places(show, asked, after) != places:
        raise AssertionError(f"ties: glpsol {places}, rigcall {rig.places(show, asked, after)}")
    if write and any(step["do"] == "set" for step in answer["steps"]):
        written.check(rigcall, path, show, asked, arguments(asked), after, answer["steps"])
    parked = set(answer["fixtures_dark"]) & set(answer["fixtures_touched"])
    seen = [n for n in ("dark", "disturbed", "touches", "settings") if answer[n]]
    return seen + ["parked"] * bool(parked) + ["ties settled"] * ties


def run_all(options, folder):
    bad, undecided, kinds = 0, 0, collections.Counter()
    for part in options.cases.split(","):
        size, count = part.split("=")
        for seed in range(options.first, options.first + int(count)):
            show, asked = cases.make(seed, size)
            path = os.path.join(folder, f"{size}-{seed}.show.lua")
            try:
                want = compare(options.rigcall, path, show, asked, options, seed % options.write == 0,
                               size in options.ties.split(","))
            except program.Undecided as trouble:
                undecided += 1
                print(f"{size} {seed}: {trouble}: not compared", flush=True)
                continue
            except AssertionError as trouble:
                bad += 1
                print(f"{size} {seed}: {trouble}\n    rigcall swap {path} {' '.join(arguments(asked))}", flush=True)
                if options.keep:
                    with open(os.path.join(options.keep, os.path.basename(path)), "w", encoding="utf-8") as file:
                        file.write(cases.as_text(show))
                continue
            kinds["cases"] += 1
            kinds.update(want)
    equal = kinds.pop("cases", 0)
    print(f"{equal} equal, {bad} not, {undecided} undecided by glpsol; among them {dict(sorted(kinds.items()))}")
    return bad or equal < options.least or (options.ties and kinds["ties settled"] < 100)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("rigcall")
    parser.add_argument("--cases", default="tiny=100,small=205,middle=25,large=3")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--least", type=int, default=0, help="fewer cases that glpsol decides in time are a failure")
    parser.add_argument("--ties", default="tiny,small", help="sizes whose ties are held against glpsol too; 100 must be equal")
    parser.add_argument("--brute", action="store_true", help="also try every rig of tiny cases")
    parser.add_argument("--write", type=int, default=10, help="every how many cases the plan is also written and read back")
    parser.add_argument("--keep", help="folder for the shows of cases that differ")
    options = parser.parse_args()
    if not shutil.which("glpsol"):
        print("SKIP: no glpsol (Debian glpk-utils)")
        return SKIPPED
    with tempfile.TemporaryDirectory() as folder:
        bad = run_all(options, folder)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
