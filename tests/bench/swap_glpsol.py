"""CPU time of plan_swap() and of glpsol for the same swaps, one after the other in one run.

usage: swap_glpsol.py FOLDER [--cases spares8=3,middle=20,...] [--first SEED] [--seconds LIMIT]

FOLDER is the build of the preset "bench". All times are CPU seconds, user and system. Three are compared:
  plan       plan_swap() alone, in process, median of 21 rounds (bench_swap_show)
  rigcall    the whole process `rigcall swap`: start, reading the show, plan, text
  glpsol     whole processes: start, reading the LP file, solving, writing the solution, of all the calls that the four costs
             need (two; four where working fixtures must be disturbed). Making the LP text in Python is not counted.
`times` is glpsol / plan, `net` the same with glpsol's start (its time for one variable, printed first) subtracted for each
call, and `whole` is glpsol / rigcall. A case that glpsol does not finish in LIMIT seconds a call counts with the time that it
took so far: "at least". The ratios hold for this integer program: one with less symmetry among like spares would be solved
sooner. Where glpsol decides, its costs must be those of the plan, and the plan proved.
"""
import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "plan_oracle"))
import cases      # noqa: E402
import compare    # noqa: E402
import program    # noqa: E402
import rig        # noqa: E402

ROUNDS = 21


def children_cpu():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


class Watch:
    """Adds up the CPU time and counts the glpsol calls of one case."""

    def __init__(self):
        self.seconds, self.calls, self.inner = 0.0, 0, subprocess.run

    def run(self, *words, **more):
        start = children_cpu()
        try:
            return self.inner(*words, **more)
        finally:
            self.seconds += children_cpu() - start
            self.calls += 1

    def __enter__(self):
        program.subprocess.run = self.run
        return self

    def __exit__(self, *_):
        program.subprocess.run = self.inner


def time_plan(folder, show, asked):
    """(seconds of plan_swap(), seconds of the whole process, costs, proved)"""
    with tempfile.TemporaryDirectory() as place:
        path = os.path.join(place, "case.show.lua")
        with open(path, "w", encoding="utf-8") as file:
            file.write(cases.as_text(show))
        words = subprocess.run([os.path.join(folder, "tests", "bench_swap_show"), path, str(ROUNDS), *compare.arguments(asked)],
                               capture_output=True, text=True, check=True).stdout.split()
        whole = []
        for _ in range(5):
            start = children_cpu()
            subprocess.run([os.path.join(folder, "rigcall"), "swap", path, *compare.arguments(asked)], capture_output=True,
                           check=False)
            whole.append(children_cpu() - start)
    return float(words[0]) / 1e6, statistics.median(whole), tuple(map(int, words[1:5])), words[5] == "1"


def time_glpsol(show, asked, limit):
    """(seconds, calls, costs or None when it ran out of time)"""
    with Watch() as watch:
        try:
            costs, _ = program.optimum(show, asked, limit)
        except program.Undecided:
            costs = None
    return watch.seconds, watch.calls, costs


def time_start():
    """Seconds of glpsol for one variable."""
    times = []
    for _ in range(ROUNDS):
        tiny = program.Program()
        one = tiny.binary("one")
        tiny.row(one, ">=", 1)
        with Watch() as watch:
            tiny.solve(one, 10)
        times.append(watch.seconds)
    return statistics.median(times)


# ---- the cases ----

def eight_spares(seed):
    """A transmitter of eight lanes is lost; eight spares of two lanes each stand around it."""
    maker = cases.Maker(seed, "large")
    sites, quiet, types = [("s0", (0, 0))], [(2402, 2423)], maker.types()
    lost = rig.Transmitter("T1", "s0", (0, 0, 6), 80.0, 4, ["single", "dual"], "dual", "40718263", False,
                           {n: n for n in range(1, 9)}, list(quiet))
    spares = [rig.Transmitter(f"T{n}", "s0", maker.near((0, 0), 30), 80.0, 1, ["single", "dual"], "dual", None, True)
              for n in range(2, 10)]
    fixtures = [rig.Fixture(100 + n, "both", "s0", maker.near((0, 0), 40), n % 8 + 1, 1 + n // 8, "40718263", "dual",
                            n % 8 + 1, "4") for n in range(64)]
    return rig.Show(f"Eight spares {seed}", sites, quiet, types, [lost, *spares], list(range(1, 9)), fixtures), \
        rig.Asked(["T1"], [], False)


def grown(seed, count):
    """`count` transmitters along 1 km with a reach of 150 m, an eighth of them spares of four lanes, eight universes for each of
    them, about 20 fixtures a universe, and one in 16 lost (at least one). 64: 512 universes, 10,000 fixtures, 4 lost."""
    maker = cases.Maker(seed, "large")
    spares = count // 8
    live, universes = count - spares, 8 * count
    quiet = [(2402, 2423)]
    transmitters, fixtures, next_universe = [], [], 1
    for t in range(count):
        spare = t >= live
        lanes = 0 if spare else universes // live + (t < universes % live)
        x = 1000.0 * ((t - live) * (live // spares) if spare else t) / live
        transmitters.append(rig.Transmitter(
            f"{'S' if spare else 'T'}{t:03}", "s0", (round(x, 1), 0, 6), 150.0, 2 if spare else (lanes + 2) // 2, ["single", "dual"],
            "dual", None if spare else maker.code(), spare, {n: next_universe + n - 1 for n in range(1, lanes + 1)}, list(quiet)))
        for n in range(1, lanes + 1):
            for k in range(10000 // 512 + (next_universe <= 10000 % 512)):
                here = transmitters[-1]
                pos = (here.pos[0], 150 * (maker.random.randrange(100)) / 125, 0)
                fixtures.append(rig.Fixture(len(fixtures) + 1, "both", "s0", pos, next_universe, 1 + k, here.code, "dual", n, "4"))
            next_universe += 1
    lost = sorted({(i * 17 + 5 + seed) % live for i in range(max(1, count // 16))})
    return rig.Show(f"Grown {count} {seed}", [("s0", (0, 0))], quiet, maker.types(), transmitters, list(range(1, universes + 1)),
                    fixtures), rig.Asked([transmitters[t].id for t in lost], [], False)


def make(seed, size):
    if size == "spares8":
        return eight_spares(seed)
    if size.startswith("grown"):
        return grown(seed, int(size[5:]))
    return cases.make(seed, size)


# ---- a run ----

def say_ratios(size, name, ratios):
    print(f"{size}, {name}: median {statistics.median(ratios):.0f} times, least {min(ratios):.0f}, at least 50 times in "
          f"{sum(r >= 50 for r in ratios)} of {len(ratios)}")


def time_size(options, size, count, start):
    plain, net, whole, ours, theirs = [], [], [], 0.0, 0.0
    for seed in range(options.first, options.first + count):
        show, asked = make(seed, size)
        mine, process, costs, proved = time_plan(options.folder, show, asked)
        other, calls, want = time_glpsol(show, asked, options.seconds)
        if want and (costs != want or not proved):
            raise AssertionError(f"{size} {seed}: glpsol {want}, plan_swap {costs}, proved {proved}")
        if not calls:
            continue                         # nothing that may change: no program to solve
        plain.append(other / mine)
        net.append(max(other - calls * start, 0) / mine)
        whole.append(other / process)
        ours, theirs = ours + mine, theirs + other
        note = "" if want else f" at least: glpsol undecided after {options.seconds} s a call"
        print(f"{size + ' ' + str(seed):11} {len(show.transmitters):4} {len(show.universes):5} {len(show.fixtures):6} "
              f"{str(costs):20} {mine * 1e3:9.3f} {process * 1e3:9.1f} {other * 1e3:10.1f} {plain[-1]:9.0f} {net[-1]:9.0f} "
              f"{whole[-1]:7.1f}{note}{'' if proved else ' (plan not proved)'}", flush=True)
    say_ratios(size, "glpsol / plan_swap()", plain)
    say_ratios(size, "the same without glpsol's start", net)
    say_ratios(size, "whole processes", whole)
    print(f"{size}, all together: {ours * 1e3:.1f} ms against {theirs * 1e3:.0f} ms, {theirs / ours:.0f} times\n", flush=True)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("folder")
    parser.add_argument("--cases", default="spares8=5,small=20,middle=20,large=10,grown8=2,grown16=2,grown32=1,grown64=1")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seconds", type=int, default=60)
    options = parser.parse_args()
    start = time_start()
    print(f"glpsol, one variable: {start * 1e3:.1f} ms CPU a call")
    print("case          tx  univ    fix (dark, …)               plan ms rigcall ms  glpsol ms     times       net   whole")
    for part in options.cases.split(","):
        size, count = part.split("=")
        time_size(options, size, int(count), start)


if __name__ == "__main__":
    sys.exit(main())
