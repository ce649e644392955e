"""The rule plan-drift a second time: what differs between a show and the one kept before it, object by object.

Also the shows before: copies of a show with mistakes, losses and edits of their own. Nothing here reads a script.
"""
import copy
import random
from decimal import Decimal

from generate import Generator
from mistakes import MISTAKES
from show_model import LISTS

NOTE = "note"
# What a key means when the file does not say it; an empty list or nothing said of it is the same.
DEFAULTS = {
    "transmitter": {"spare": False, "input": "multicast"},
    "fixture": {"wired": False},
    "universe": {"priority": 100},
}
# Lists whose order says nothing.
UNORDERED = ("airs", "tags", "lanes", "keep_out", "quiet")


def plain(value):
    """A value to compare: numbers as numbers, tables as sorted pairs, empty lists and tables as nothing."""
    if isinstance(value, dict):
        return tuple(sorted((key, plain(entry)) for key, entry in value.items())) or None
    if isinstance(value, (list, tuple)):
        return tuple(plain(entry) for entry in value) or None
    return Decimal(value) if isinstance(value, (int, Decimal)) and not isinstance(value, bool) else value


def modes_of(kind):
    """The ids with how often each is there, and the first mode of each id."""
    first = {}
    for mode in kind["modes"]:
        first.setdefault(mode["id"], plain({"head": [], "cells": 0, "tail": [], **mode}))
    return sorted(mode["id"] for mode in kind["modes"]), first


def meaning(kind, thing):
    said = {**DEFAULTS.get(kind, {}), **thing}
    if kind == "universe":
        said.setdefault("wire", said["id"])
    for key in UNORDERED:
        if said.get(key):
            said[key] = sorted(said[key], key=lambda entry: repr(plain(entry)))
    modes = said.pop("modes", None)
    flat = {key: plain(value) for key, value in said.items()}
    return {key: value for key, value in flat.items() if value is not None}, modes


def differ(kind, was, now):
    (before, _), (after, _) = meaning(kind, was), meaning(kind, now)
    if kind == "type":
        (ids_before, modes_before), (ids_after, modes_after) = modes_of(was), modes_of(now)
        if ids_before != ids_after:
            return True
        if any(modes_before[key] != modes_after[key] for key in modes_before):
            return True
    return before != after


def queues(things):
    """Id -> the objects of that id, in the order of the file."""
    by_id = {}
    for thing in things:
        by_id.setdefault(thing["id"], []).append(thing)
    return by_id


def findings(before, now):
    """(severity, subject, others) of every finding. `before`: a show, None when nothing is kept, or a text that is no show."""
    show = ("show", now["name"])
    if before is None:
        return
    if isinstance(before, str):
        yield NOTE, show, ()
        return
    lists = set(LISTS.values())
    if differ("show", *({key: value for key, value in data.items() if key not in lists} for data in (before, now))):
        yield NOTE, show, ()
    for kind, name in LISTS.items():
        left = queues(before.get(name, []))
        for thing in now.get(name, []):
            was = left.get(thing["id"])
            if not was or differ(kind, was.pop(0), thing):
                yield NOTE, (kind, thing["id"]), ()
        for gone in left.values():
            for _ in gone:
                yield NOTE, show, ()


# ---- shows before ----

def edit(r, show):
    """One edit that no mistake makes."""
    kind, name = r.choice(list(LISTS.items()))
    things = show[name]
    if not things:
        return
    thing = r.choice(things)
    what = r.randrange(8)
    if what == 0:
        things.remove(thing)
    elif what == 1:
        new = f"{kind}-{r.randrange(9)}" if isinstance(thing["id"], str) else r.randrange(700, 800)
        things.append({**copy.deepcopy(thing), "id": new})
    elif what == 2:
        thing["note"] = r.choice(("wet", "dented, bent"))
    elif what == 3:
        thing[r.choice(("x_case", "x_crew"))] = r.choice((7, "A 7", True, [1, 2]))
    elif what == 4 and kind != "universe":
        thing["name"] = f"Name {r.randrange(5)}"
    elif what == 5 and thing.get("pos"):
        thing["pos"] = [thing["pos"][0] + Decimal(r.choice(("0", "0.001", "1"))), *thing["pos"][1:]]
    elif what == 6 and kind == "fixture":
        thing["tags"] = r.sample(("rail", "front", "key"), r.randrange(4))
    elif what == 7 and kind == "type":
        r.choice(thing["modes"])[r.choice(("name", "note"))] = r.choice(("new", "old"))


def same_again(r, show):
    """Ways of saying the same: another order, defaults written out."""
    for name in LISTS.values():
        if len({thing["id"] for thing in show[name]}) == len(show[name]):
            r.shuffle(show[name])
    for transmitter in show["transmitters"]:
        r.shuffle(transmitter["lanes"])
        transmitter.setdefault("input", "multicast")
        r.shuffle(transmitter.get("keep_out", []))
    for universe in show["universes"]:
        universe.setdefault("priority", 100)
        universe.setdefault("wire", universe["id"])


def before_of(seed):
    """What stands beside the show of a seed: nothing, no show, the same show, or one with up to a dozen differences."""
    r = random.Random(f"rigcall before {seed}")
    how = r.random()
    if how < 0.1:
        return None
    if how < 0.15:
        return r.choice(("return { rigcall = 1 }\n", "return {", "", "return { rigcall = 1, name = 5 }"))
    generator = Generator(seed)
    show = generator.show()
    same_again(r, show)
    generator.r = r
    for _ in range(r.choice((0, 1, 2, 4, 8))):
        r.choice(MISTAKES)(generator, show)
    for _ in range(r.choice((0, 0, 1, 3, 6))):
        edit(r, show)
    if r.random() < 0.2:
        show["name"] = "Another"
    return show
