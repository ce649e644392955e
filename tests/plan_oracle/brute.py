"""Every swap of a tiny rig, one after the other: the plainest optimiser there is, to check the integer program by."""
import itertools
import math

import rig


def lane_fillings(top, universes):
    """Every way to put each universe on at most one of `top` lanes."""
    for filling in itertools.product([None, *universes], repeat=top):
        used = [u for u in filling if u is not None]
        if len(used) == len(set(used)):
            yield {lane: u for lane, u in enumerate(filling, 1) if u is not None}


def states(show, t, codes, universes):
    """Every state that a transmitter may take: (spare, code, air, lanes, keep_out)."""
    if t.spare:
        yield (True, t.code, t.air, t.lanes, t.keep_out)
    wide = t.keep_out + show.quiet
    outs = [t.keep_out] if rig.quiet_kept(show, t.keep_out) else [t.keep_out, wide]
    for air in dict.fromkeys([t.air, *t.airs]):
        for lanes in lane_fillings(t.top(air), universes):
            for code in dict.fromkeys([t.code, *codes, f"9{t.id[1:]:0>6}1"]):
                if t.spare and not code:
                    continue                 # without a code it would be off the air
                for keep_out in outs:
                    yield (False, code, air, lanes, keep_out)


def plan_size(show, asked):
    """How many rigs there are to look at, about."""
    codes, universes = offers(show, asked)
    size = 1
    for t in show.transmitters:
        if asked.may_change(t):
            if t.top("dual") > 4 or len(universes) > 5:
                return math.inf
            fillings = sum(1 for a in dict.fromkeys([t.air, *t.airs]) for _ in lane_fillings(t.top(a), universes))
            size *= fillings * (len(codes) + 1) * (2 if show.quiet else 1)
    return size


def offers(show, asked):
    codes = sorted({c for c in [*(t.code for t in show.transmitters), *(f.code for f in show.fixtures)] if c})
    fixed = {u for t in show.transmitters if t.id not in asked.out and not asked.may_change(t) and not t.spare
             for u in t.lanes.values()}
    return codes, [u for u in show.universes if u not in fixed]


def answer(after, show, lost, working):
    """Give each fixture the best settings for the transmitters as they are.
    @return False if a working one cannot be served"""
    carried = {u: places[0] for u, places in rig.carried(after).items()}
    by_id = {t.id: t for t in after.transmitters}
    for fixture in after.fixtures:
        if fixture.id not in lost and fixture.id not in working:
            continue
        if rig.landing(after, fixture)[0] == "right":
            continue
        old = fixture.key()
        if fixture.universe in carried:
            where, lane = carried[fixture.universe]
            fixture.code, fixture.air, fixture.lane = by_id[where].code, by_id[where].air, lane
            if fixture.code and rig.air_allowed(show, fixture, fixture.air) and rig.landing(after, fixture)[0] == "right":
                continue
            fixture.code, fixture.air, fixture.lane = old
        if fixture.id in working:
            return False
        if rig.lands_wrong(after, fixture):
            fixture.code = "88000013"
    return True


def quick_no(chosen, must):
    """Universes twice or missing, without building a rig."""
    seen = [u for spare, _, _, lanes, _ in chosen if not spare for u in lanes.values()]
    return len(seen) != len(set(seen)) or not must <= set(seen)


def optimum(show, asked):
    """@return (least costs or None, of all rigs with those costs the least list of places)"""
    lost, working = rig.sort_fixtures(show, asked)
    codes, universes = offers(show, asked)
    free = [i for i, t in enumerate(show.transmitters) if asked.may_change(t)]
    must = {u for i in free if not show.transmitters[i].spare for u in show.transmitters[i].lanes.values()}
    best = None
    base = rig.take_off(show, asked)
    for chosen in itertools.product(*(list(states(show, show.transmitters[i], codes, universes)) for i in free)):
        if quick_no(chosen, must):
            continue
        after = clone(base)
        after.transmitters = [clone(t) for t in base.transmitters]
        after.fixtures = [clone(f) for f in base.fixtures]
        for i, state in zip(free, chosen):
            t = after.transmitters[i]
            t.spare, t.code, t.air, t.lanes, t.keep_out = state
        if not answer(after, show, lost, working):
            continue
        costs, wrong = rig.judge(show, asked, after)
        if wrong:
            continue
        found = (costs.as_tuple(), rig.places(show, asked, after))
        best = found if best is None else min(best, found)
    return best or (None, None)


def clone(thing):
    """A shallow copy: the lists and tables in it are replaced, never changed."""
    new = object.__new__(type(thing))
    new.__dict__.update(thing.__dict__)
    return new
