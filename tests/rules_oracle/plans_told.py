#!/usr/bin/env python3
"""What a plan names is what plan-drift finds: patch, swap and move on generated shows, written, then checked.

Every object of the steps has one finding, and no other object has any; what writes nothing leaves nothing to find. Exit status 0
when all that holds and every command has written often enough, 1 otherwise.
"""
import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from generate import Generator
from show_text import text

KEYED = ("universe", "address", "code", "air", "lane")


def show_of(seed):
    """A show without mistakes in which some fixtures are not patched yet."""
    show, r = Generator(seed).show(mistakes=False), random.Random(f"rigcall plan {seed}")
    for fixture in show["fixtures"]:
        if r.random() < 0.3:
            for key in KEYED:
                fixture.pop(key, None)
    return show


def plans(show):
    yield "patch", []
    yield "patch", ["--all", "--tight"]
    yield "swap", ["--out", show["transmitters"][0]["id"]]
    if len(show["sites"]) > 1:
        yield "move", ["--from", show["sites"][0]["id"], "--to", show["sites"][1]["id"]]


def answer(program, *words):
    done = subprocess.run([program, *words, "--format", "json"], capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):
        raise AssertionError(f"{' '.join(words)}: exit status {done.returncode}: {done.stderr}")
    return json.loads(done.stdout)


def wrong_of(program, path, command, options):
    """@return (whether a show was written, what is wrong or None)"""
    plan = answer(program, command, str(path), *options, "--write")
    found = answer(program, "check", str(path), "--only", "plan-drift")["findings"]
    written = path.with_name(path.name + "~").exists()
    named = {(step["kind"], step["id"]) for step in plan["steps"]} if written else set()
    told = Counter((f["subject"]["kind"], f["subject"]["id"]) for f in found)
    if told != Counter(named):
        return written, f"named {sorted(named, key=repr)}, told {sorted(told.items(), key=repr)}"
    return written, None


def try_seed(program, seed):
    """@return (commands that have written, what is wrong)"""
    show, wrote, wrong = show_of(seed), [], []
    with tempfile.TemporaryDirectory() as folder:
        for at, (command, options) in enumerate(plans(show)):
            path = Path(folder) / f"{at}.show.lua"
            path.write_text(text(show), encoding="utf-8")
            written, trouble = wrong_of(program, path, command, options)
            wrote += [command] * written
            wrong += [f"seed {seed}: {command} {' '.join(options)}: {trouble}"] if trouble else []
    return wrote, wrong


def main():
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("program")
    options.add_argument("--first", type=int, default=1, help="the first seed")
    options.add_argument("--shows", type=int, default=30, help="how many seeds")
    given = options.parse_args()
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        results = list(pool.map(lambda seed: try_seed(given.program, seed), range(given.first, given.first + given.shows)))
    wrong = [line for _, lines in results for line in lines]
    wrote = sum((Counter(commands) for commands, _ in results), Counter())
    print("\n".join(wrong + [f"{given.shows} shows; written: {dict(sorted(wrote.items()))}"]))
    few = any(wrote[command] < given.shows // 6 for command in ("patch", "swap", "move"))
    return 1 if wrong or few else 0


if __name__ == "__main__":
    sys.exit(main())
