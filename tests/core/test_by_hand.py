"""Steps by hand against brute force: every moment a person may choose, every subset.

The oracle (`Truth`) multiplies gains along every path by itself; it knows nothing of
beliefs, corners or legs.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

from bridge.core.belief import known
from bridge.core.control import NOWHERE, Reach
from bridge.core.crossing import plan
from bridge.core.leg import Crossing, Refusal
from bridge.core.loudness import loudness_of
from bridge.core.wire import Value
from tests.fakes.gain_judge import GainJudge, Truth
from tests.fakes.random_benches import Change, random_change
from tests.fakes.times import seeds

Shown = tuple[Value, ...]
"""The positions that a control has at one moment: one, none of them, or two."""


def with_hands(seed: int) -> Change:
    """A random change of four controls, of which one to three are for a hand."""
    change = random_change(seed, 4)
    rng = random.Random(seed)
    names = rng.sample(sorted(change.goal), rng.randint(1, 3))
    controls = {
        name: replace(c, reach=Reach.HAND) if name in names else c
        for name, c in change.bench.controls.items()
    }
    return replace(change, bench=replace(change.bench, controls=controls))


def way_of(change: Change) -> Crossing | Refusal:
    return plan(
        GainJudge(change.bench),
        change.bench.controls,
        known(change.start),
        change.goal,
        loudness=loudness_of(change.bench.graph),
    )


def at_any_moment(change: Change, name: str) -> list[Shown]:
    """All that a control may be between its old value and its new one."""
    control = change.bench.controls[name]
    old, new = change.start[name], change.goal[name]
    between: list[Shown] = [(old,), (new,)]
    if control.gap:
        between.append((NOWHERE,))
    if control.overlap:
        between.append((old, new))
    return between


def moments(change: Change, way: Crossing) -> Iterator[dict[str, Shown]]:
    """Every state in which each leg may be, hands being anywhere all the time."""
    hands = {change.control for change in way.by_hand}
    free = {name: at_any_moment(change, name) for name in sorted(hands)}
    now: dict[str, Shown] = {name: (value,) for name, value in change.start.items()}
    for leg in way.legs:
        moving = [c.control for c in leg.changes if c.control not in hands]
        chosen = {name: at_any_moment(change, name) for name in moving} | free
        for shown in product(*chosen.values()):
            yield now | dict(zip(chosen, shown, strict=True))
        now |= {name: (change.goal[name],) for name in moving}


def test_no_moment_that_a_person_may_choose_breaks_a_never_rule() -> None:
    found = {"crossings": 0, "refused by hand": 0, "moments": 0}
    for seed in seeds(300):
        change = with_hands(seed)
        truth = Truth(change.bench)
        way = way_of(change)
        if isinstance(way, Refusal):
            found["refused by hand"] += bool(way.hands)
            continue
        found["crossings"] += 1
        for moment in moments(change, way):
            found["moments"] += 1
            assert not truth.nevers_broken(moment), (seed, moment)
    assert found["crossings"] > 30
    assert found["refused by hand"] > 30
    assert found["moments"] > 10 * found["crossings"]


def test_what_is_refused_because_of_a_hand_would_truly_break_a_rule() -> None:
    """Forgotten at the end, or done before anything else: one of these is unsafe."""
    for seed in seeds(300):
        change = with_hands(seed)
        way = way_of(change)
        if not (isinstance(way, Refusal) and way.hands):
            continue
        truth = Truth(change.bench)
        free = {name: at_any_moment(change, name) for name in way.hands}
        ends = ({**change.start, **change.goal}, change.start)
        broken = [
            truth.nevers_broken(
                {n: (v,) for n, v in end.items()} | dict(zip(free, shown, strict=True))
            )
            for end in ends
            for shown in product(*free.values())
        ]
        assert any(broken), seed
