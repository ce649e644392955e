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


def findings(rigcall, path):
    return json.loads(run(rigcall, "check", path, "--format", "json"))["findings"]


def fails(found):
    return {(f["rule"], f["subject"].get("id")): f["text"] for f in found if f["severity"] == "fail"}


LANES_TOLD = 8                   # by plan-drift of one transmitter, by their numbers; the rest is counted


def drift_of(step):
    """How plan-drift says what a step of a swap does, one or several parts; a band list is not spelt out here."""
    field, old, new = step["field"], step["from"], step["to"]
    if field == "lanes":
        return [f"lane {lane}: universe {universe} -> empty" for lane, universe in pairs(old, ":", int)]
    if field.startswith("lane ") and step["kind"] == "transmitter":
        carries = ["empty" if n is None else f"universe {n}" for n in (old, new)]
        return [f"{field}: {carries[0]} -> {carries[1]}"]
    if field in ("spare", "keep_out"):
        return [{"spare": "no spare any more", "keep_out": "keeps out"}[field]]
    words = {"code": "join code", "air": "air mode", "lane": "lane"}[field]
    return [f"{words} {'none' if old is None else old} -> {'none' if new is None else new}"]


def check_drift(steps, found):
    """plan-drift names the objects of the steps, no other, and of each what the steps change and nothing else."""
    want = {}
    for step in steps:
        want.setdefault((step["kind"], step["id"]), []).extend(drift_of(step))
    drift = [f for f in found if f["rule"] == "plan-drift"]
    got = {(f["subject"]["kind"], f["subject"].get("id")): f["text"].split("; ") for f in drift}
    if set(got) != set(want) or len(drift) != len(got):
        raise AssertionError(f"plan-drift names {sorted(got, key=repr)}, the steps {sorted(want, key=repr)}")
    for mark, parts in got.items():
        lanes = sorted((p for p in want[mark] if p.startswith("lane ") and ":" in p), key=lambda p: int(p[5:p.index(":")]))
        left = lanes[LANES_TOLD:]
        told = [p for p in want[mark] if p not in left] + ([f"{len(left)} more lanes"] if left else [])
        said = ["keeps out" if p.startswith("keeps out ") else p for p in parts]
        if "spare" not in [s["field"] for s in steps if (s["kind"], s["id"]) == mark] and "no spare any more" in said:
            said.remove("no spare any more")        # a spare that receives lanes is none: no step of its own
        if sorted(said) != sorted(told):
            raise AssertionError(f"plan-drift says of {mark} {said}, the steps {told}")


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


def check(rigcall, path, show, asked, words, after, steps):
    """Carry a swap out on the show file at path, and compare."""
    before = fails(findings(rigcall, path))
    run(rigcall, "swap", path, *words, "--write")
    check_fields(rigcall, path, after)
    found = findings(rigcall, path)
    check_fails(show, asked, after, before, fails(found))
    check_drift(steps, found)
