#!/usr/bin/env python3
"""Hold `rigcall check` against oracle.py on generated shows.

Every show is checked once, most of them with a show before beside them. The findings must be those of the oracle
(rule, severity, subject, others; as many of each), in the order that a report promises; the counts and the exit
status must fit them. Every rule must have something to say in some shows and nothing in others, so that agreeing
means something. Exit status 0 when all that holds, 1 otherwise.
"""
import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import drift
import oracle
from generate import generate
from show_text import text


def reported(answer):
    def thing(entry):
        return (entry["kind"], entry["id"])
    return [(f["rule"], f["severity"], thing(f["subject"]), tuple(map(thing, f["others"]))) for f in answer["findings"]]


def without_unsure(expected, found):
    """Take away the findings that the oracle does not decide: a rounded constant would turn them."""
    unsure = {(rule, subject) for rule, severity, subject, _ in expected if severity == "unsure"}
    return [[f for f in side if (f[0], f[2]) not in unsure] for side in (expected, found)]


def differences(expected, rules, status, output, errors):
    """What is wrong with the answer to a show, one line each."""
    try:
        answer = json.loads(output)
    except ValueError:
        answer = None
    if status not in (0, 1) or errors or answer is None:
        yield f"exit status {status}: {errors.strip() or output[:200]!r}"
        return
    texts = {}
    for finding, entry in zip(reported(answer), answer["findings"]):
        texts.setdefault(finding, entry["text"])
    judged = [finding for finding in reported(answer) if finding[0] not in oracle.ELSEWHERE]
    expected, found = without_unsure(expected, judged)
    for finding, times in sorted((Counter(expected) - Counter(found)).items(), key=repr):
        yield f"missing {times}: {finding}"
    for finding, times in sorted((Counter(found) - Counter(expected)).items(), key=repr):
        yield f"too many {times}: {finding} {texts[finding]!r}"
    everything = reported(answer)
    for before, after in zip(everything, everything[1:]):
        if oracle.order(before) > oracle.order(after):
            yield f"out of order: {before} before {after}"
    severities = Counter(severity for _, severity, _, _ in everything)
    if answer["counts"] != {name: severities[name] for name in ("fail", "warn", "note")}:
        yield f"counts {answer['counts']}, but the findings are {dict(severities)}"
    if status != (1 if severities["fail"] else 0):
        yield f"exit status {status} with {severities['fail']} fail findings"
    if sorted(set(answer["rules"]) - set(oracle.ELSEWHERE)) != sorted(rules):
        yield f"rules {answer['rules']}"


def check(given, rules, folder, seed):
    show, before = generate(seed), drift.before_of(seed)
    expected = [finding for finding in oracle.findings(show, before) if finding[0] in rules]
    path, kept = (Path(folder) / f"seed-{seed}.show.lua{end}" for end in ("", "~"))
    path.write_text(text(show), encoding="utf-8")
    if before is not None:
        kept.write_text(before if isinstance(before, str) else text(before), encoding="utf-8")
    command = [given.program, "check", str(path), "--format", "json"] + (["--only", given.only] if given.only else [])
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    wrong = list(differences(expected, rules, done.returncode, done.stdout, done.stderr))
    if not wrong:
        path.unlink()
        kept.unlink(missing_ok=True)
    return seed, wrong, Counter((rule, severity) for rule, severity, _, _ in expected)


def one_sided(seen, rules):
    """What the shows did not try. Under a hundred shows nothing is asked of them."""
    for rule in rules:
        times = [sum(count for (name, _), count in show.items() if name == rule) for show in seen]
        if len(seen) >= 100 and min(sum(map(bool, times)), times.count(0)) < 5:
            yield f"{rule}: {times.count(0)} of {len(seen)} shows are clean, at least 5 of each kind are wanted"
    if len(seen) >= 100 and "code-clash" in rules:
        for severity in ("fail", "warn"):
            if not any(show["code-clash", severity] for show in seen):
                yield f"code-clash: never {severity}"


def main():
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("program")
    options.add_argument("--first", type=int, default=1, help="the first seed")
    options.add_argument("--shows", type=int, default=300, help="how many seeds")
    options.add_argument("--only", choices=(*oracle.RULES, oracle.DRIFT), help="this rule alone")
    options.add_argument("--keep", help="write the shows here and leave those that differ")
    given = options.parse_args()
    rules = [given.only] if given.only else [*oracle.RULES, oracle.DRIFT]
    with tempfile.TemporaryDirectory() as scratch:
        folder = given.keep or scratch
        seeds = range(given.first, given.first + given.shows)
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            results = list(pool.map(lambda seed: check(given, rules, folder, seed), seeds))
    for seed, wrong, _ in results:
        for line in wrong:
            print(f"seed {seed}: {line}")
    seen = [fired for _, _, fired in results]
    for (rule, severity), times in sorted(sum(seen, Counter()).items()):
        print(f"{rule} {severity}: {times} findings in {sum((rule, severity) in show for show in seen)} shows")
    poor = list(one_sided(seen, rules))
    bad = sum(bool(wrong) for _, wrong, _ in results)
    print("\n".join(poor + [f"{given.shows} shows, {sum(map(Counter.total, seen))} findings expected, {bad} shows differ"]))
    return 1 if bad or poor else 0


if __name__ == "__main__":
    sys.exit(main())
