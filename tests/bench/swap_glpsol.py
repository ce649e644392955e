"""How long plan_swap() and glpsol take for the same swaps, one after the other on the same machine.

usage: time_swap.py PLAN_TIME [--cases spares8=3,middle=20,...] [--first SEED] [--seconds LIMIT]

PLAN_TIME is the program plan_time of a Release build (preset "bench"): plan_swap() alone, in process, median of 21 rounds.
Of glpsol whole processes count: start, reading the LP file, solving, writing the solution, for all the calls that the four
costs need (two; four where working fixtures must be disturbed). Making the LP text in Python is not counted. What glpsol
needs for one variable is printed first, so that nobody takes its start for solving; the second ratio has it subtracted.
The ratios hold for this integer program: a cleverer one, with less symmetry among like spares, would be solved sooner.
A case that glpsol does not finish in LIMIT seconds a call counts with the time it took so far, as "at least".
"""
import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import cases      # noqa: E402
import compare    # noqa: E402
import program    # noqa: E402
import rig        # noqa: E402

ROUNDS = 21


class Watch:
    """Adds up the time and counts the glpsol calls of one case."""

    def __init__(self):
        self.seconds, self.calls, self.inner = 0.0, 0, subprocess.run

    def run(self, *words, **more):
        start = time.perf_counter()
        try:
            return self.inner(*words, **more)
        finally:
            self.seconds += time.perf_counter() - start
            self.calls += 1

    def __enter__(self):
        program.subprocess.run = self.run
        return self

    def __exit__(self, *_):
        program.subprocess.run = self.inner


def time_plan(plan_time, show, asked):
    """(seconds, costs, proved)"""
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "case.show.lua")
        with open(path, "w", encoding="utf-8") as file:
            file.write(cases.as_text(show))
        words = subprocess.run([plan_time, path, str(ROUNDS), *compare.arguments(asked)], capture_output=True, text=True,
                               check=True).stdout.split()
    return float(words[0]) / 1e6, tuple(map(int, words[1:5])), words[5] == "1"


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


def make(seed, size):
    return eight_spares(seed) if size == "spares8" else cases.make(seed, size)


def time_size(options, size, count, start):
    whole, solving, ours, theirs = [], [], 0.0, 0.0
    for seed in range(options.first, options.first + count):
        show, asked = make(seed, size)
        mine, costs, proved = time_plan(options.plan_time, show, asked)
        other, calls, want = time_glpsol(show, asked, options.seconds)
        if want and (costs != want or not proved):
            raise AssertionError(f"{size} {seed}: glpsol {want}, plan_swap {costs}, proved {proved}")
        if not calls:
            continue                         # nothing that may change: no program to solve
        net = max(other - calls * start, 0)
        whole.append(other / mine)
        solving.append(net / mine)
        ours, theirs = ours + mine, theirs + other
        print(f"{size + ' ' + str(seed):12} {len(show.transmitters):5} {len(show.universes):5} {len(show.fixtures):5} "
              f"{str(costs):18} {mine * 1e3:10.3f} {other * 1e3:10.1f} {other / mine:9.0f} {net / mine:9.0f}"
              f"{'' if want else ' at least'}", flush=True)
    for name, ratios in (("whole glpsol", whole), ("without its start", solving)):
        print(f"{size}, {name}: median {statistics.median(ratios):.0f} times, least {min(ratios):.0f}, "
              f"at least 50 times in {sum(r >= 50 for r in ratios)} of {len(ratios)}")
    print(f"{size}: all together {ours * 1e3:.1f} ms against {theirs * 1e3:.0f} ms, {theirs / ours:.0f} times")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("plan_time")
    parser.add_argument("--cases", default="spares8=5,small=20,middle=20,large=10")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seconds", type=int, default=60)
    options = parser.parse_args()
    start = time_start()
    print(f"glpsol, one variable: {start * 1e3:.1f} ms a call")
    print("case            tx  univ   fix (dark, …)            plan ms  glpsol ms     times  no start")
    for part in options.cases.split(","):
        size, count = part.split("=")
        time_size(options, size, int(count), start)


if __name__ == "__main__":
    sys.exit(main())
