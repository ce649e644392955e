"""What `rigcall swap --write` leaves in the show file: read back through `export` and `check`."""
import csv
import io
import json
import subprocess

import rig


def run(rigcall, *words):
    done = subprocess.run([rigcall, *words], capture_output=True, text=True, check=False)
    if done.returncode > 1:
        raise AssertionError(f"{' '.join(words)}: exit {done.returncode}: {done.stderr}")
    return done.stdout


def rows(rigcall, path, kind):
    text = run(rigcall, "export", path, "csv", "--of", kind)
    return {row["id"]: row for row in csv.DictReader(io.StringIO(text, newline=""))}


def pairs(text, between, number):
    return [tuple(number(n) for n in pair.split(between)) for pair in text.split()]


def check_fields(rigcall, path, after):
    """The file says what the steps lead to."""
    found = rows(rigcall, path, "transmitters")
    for t in after.transmitters:
        row = found[t.id]
        said = (row["code"] or None, row["air"], row.get("spare") == "true", dict(pairs(row.get("lanes", ""), ":", int)),
                sorted(pairs(row.get("keep_out", ""), "-", float)))
        want = (t.code, t.air, t.spare, t.lanes, sorted((float(a), float(b)) for a, b in t.keep_out))
        if said != want:
            raise AssertionError(f"written {t.id} is {said}, by the steps {want}")
    found = rows(rigcall, path, "fixtures")
    for f in after.fixtures:
        row = found[str(f.id)]
        said = (row["code"] or None, row["air"] or None, int(row["lane"]) if row["lane"] else None)
        if said != f.key():
            raise AssertionError(f"written fixture {f.id} is {said}, by the steps {f.key()}")


def fails(rigcall, path):
    findings = json.loads(run(rigcall, "check", path, "--format", "json"))["findings"]
    return {(f["rule"], f["subject"].get("id")): f["text"] for f in findings if f["severity"] == "fail"}


def check_fails(show, asked, after, before, now):
    """No fail that was not there before, except of what the plan names dark.

    A fixture that was not lit before has a reason of its own, which may change its name when the transmitter that it is
    keyed to is gone."""
    lost, working = rig.sort_fixtures(show, asked)
    dark = {f.id: f.universe for f in after.fixtures if f.id in lost and rig.landing(after, f)[0] != "right"}
    for mark, text in now.items():
        rule, subject = mark
        known = mark in before or (rule == "landing" and (subject in dark or subject not in {**lost, **working})) or (
            rule == "universe-carried" and subject in dark.values())
        if not known:
            raise AssertionError(f"check after it: {rule}: {text}")


def check(rigcall, path, show, asked, words, after):
    """Carry a swap out on the show file at path, and compare."""
    before = fails(rigcall, path)
    run(rigcall, "swap", path, *words, "--write")
    check_fields(rigcall, path, after)
    check_fails(show, asked, after, before, fails(rigcall, path))
