"""Crossings out of danger: nothing known, a replug, a hand on the desk."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from itertools import product

import pytest

from bridge.core.belief import Belief, known, settled, unknown, widened
from bridge.core.control import NOWHERE, Control, Kind
from bridge.core.crossing import plan
from bridge.core.guard import refused_because
from bridge.core.leg import Crossing, Leg
from bridge.core.loudness import loudness_of
from bridge.core.wire import Value
from tests.fakes.gain_judge import Bench, GainJudge, Truth
from tests.fakes.random_benches import Change, random_change, random_demands
from tests.fakes.times import seeds

Shown = dict[str, tuple[Value, ...]]


def planned(bench: Bench, belief: Belief, goal: Mapping[str, Value]) -> object:
    loudness = loudness_of(bench.graph)
    return plan(GainJudge(bench), bench.controls, belief, goal, loudness=loudness)


def completions(belief: Belief) -> Iterator[dict[str, Value]]:
    """Every true setting that the belief allows."""
    for chosen in product(*(sorted(values, key=str) for values in belief.values())):
        yield dict(zip(belief, chosen, strict=True))


def shown_by(bench: Bench, true: Mapping[str, Value], leg: Leg) -> Iterator[Shown]:
    """Everything that can be so while a leg is under way from a true setting."""

    def while_moving(control: Control, new: Value) -> list[tuple[Value, ...]]:
        old = true[control.name]
        between: list[tuple[Value, ...]] = [(NOWHERE,)] if control.gap else []
        if control.overlap:
            between.append((old, new))
        return [(old,), (new,), *between]

    moving = leg.setting
    names = list(moving)
    every = [while_moving(bench.controls[name], moving[name]) for name in names]
    for chosen in product(*every):
        rest = {name: (value,) for name, value in true.items()}
        yield {**rest, **dict(zip(names, chosen, strict=True))}


def show_never_worse(bench: Bench, belief: Belief, crossing: Crossing) -> None:
    """Whatever was true at the start, nothing passed is worse, and the end is good."""
    harms = Harms(bench)
    for start in completions(belief):
        before = harms.of({n: (v,) for n, v in start.items()})
        true = dict(start)
        for leg in crossing.legs:
            for shown in shown_by(bench, true, leg):
                for rule, harm in harms.of(shown).items():
                    assert harm <= before.get(rule, 0.0) * (1 + 1e-9), (rule, shown)
            true |= leg.setting
        assert not harms.of({n: (v,) for n, v in true.items()})
        assert all(true[name] == value for name, value in crossing.goal.items())
    judge = GainJudge(bench)
    for leg in crossing.legs:
        assert not refused_because(judge, belief, leg.in_flight)
        belief = settled(belief, leg.setting)
    assert not judge.nevers_broken(belief)


class Harms:
    """What `Truth` says of the never-rules, each setting looked at once."""

    def __init__(self, bench: Bench) -> None:
        self.truth = Truth(bench)
        self.seen: dict[tuple[tuple[Value, ...], ...], dict[str, float]] = {}

    def of(self, shown: Shown) -> dict[str, float]:
        key = tuple(shown[name] for name in self.truth.bench.controls)
        if key not in self.seen:
            self.seen[key] = self.truth.nevers_broken(shown)
        return self.seen[key]


def believed(change: Change, rng: random.Random, chance: float) -> Belief:
    """Some controls are known to be as they are, the others may be anything."""
    return {
        name: frozenset(control.values)
        if rng.random() < chance
        else frozenset({change.start[name]})
        for name, control in change.bench.controls.items()
    }


@pytest.mark.parametrize(("chance", "count"), [(0.3, 80), (0.7, 40), (1.0, 20)])
def test_no_step_is_worse_than_what_may_be_true(chance: float, count: int) -> None:
    dangerous = 0
    for seed in seeds(count):
        change, rng = random_change(seed, 5, selectors=0.15), random.Random(seed)
        belief = believed(change, rng, chance)
        goal = {**change.start, **change.goal}
        dangerous += bool(GainJudge(change.bench).nevers_broken(belief))
        found = planned(change.bench, belief, goal)
        if isinstance(found, Crossing):
            show_never_worse(change.bench, belief, found)
    assert dangerous > 10


@pytest.mark.parametrize(("chance", "count"), [(0.5, 100), (1.0, 50)])
def test_a_partial_goal_leaves_nothing_worse(chance: float, count: int) -> None:
    reached = 0
    for seed in seeds(count, first=3_000):
        change, rng = random_change(seed, 5, selectors=0.15), random.Random(seed)
        belief = believed(change, rng, chance)
        some = rng.sample(sorted(change.start), rng.randint(1, 4))
        goal = {name: {**change.start, **change.goal}[name] for name in some}
        found = planned(change.bench, belief, goal)
        if isinstance(found, Crossing) and GainJudge(change.bench).nevers_broken(
            belief
        ):
            reached += 1
            show_never_worse(change.bench, belief, found)
    assert reached > 10


def test_hard_demands_from_the_unknown() -> None:
    for seed in seeds(60, first=7_000):
        change, rng = random_demands(seed, 5, rules=7), random.Random(seed)
        belief = believed(change, rng, 0.6)
        found = planned(change.bench, belief, change.goal)
        if isinstance(found, Crossing):
            show_never_worse(change.bench, belief, found)


def test_with_cuts_and_opens_only_a_whole_goal_is_always_reached() -> None:
    """Never beats keep: without selectors nothing stands between unknown and goal."""
    reached = 0
    for seed in seeds(300, first=20_000):
        change = random_change(seed, 5, selectors=0.0)
        goal = {**change.start, **change.goal}
        if any(
            control.kind is Kind.LEVEL or _mid(control, goal[name])
            for name, control in change.bench.controls.items()
        ):
            continue
        found = planned(change.bench, unknown(change.bench.controls), goal)
        assert isinstance(found, Crossing), (change, found)
        reached += 1
    assert reached > 50


def _mid(control: Control, value: Value) -> bool:
    return value not in (control.values[0], control.values[-1])


def test_a_hand_on_the_desk_is_undone_without_making_it_worse() -> None:
    """Everything is known, and it is bad: no leg makes any rule worse than it is."""
    bad = 0
    for seed in seeds(250, first=30_000):
        change, rng = random_change(seed, 5, selectors=0.15), random.Random(seed)
        moved = rng.choice(sorted(change.bench.controls))
        value = rng.choice(change.bench.controls[moved].values)
        belief = known({**change.start, moved: value})
        if not GainJudge(change.bench).nevers_broken(belief):
            continue
        bad += 1
        goal = {**change.start, **change.goal}
        found = planned(change.bench, belief, goal)
        if isinstance(found, Crossing):
            show_never_worse(change.bench, belief, found)
    assert bad > 10


def test_a_keep_that_gives_way_is_named() -> None:
    """From a bad start: each keep-rule that a leg may break stands in its reason."""
    named = 0
    for seed in seeds(150, first=40_000):
        change, rng = random_change(seed, 5, selectors=0.0), random.Random(seed)
        belief, judge = believed(change, rng, 0.4), GainJudge(change.bench)
        goal = {**change.start, **change.goal}
        found = planned(change.bench, belief, goal)
        if not isinstance(found, Crossing) or not judge.nevers_broken(belief):
            continue
        free = set(judge.keeps_broken(belief)) | set(judge.keeps_broken(known(goal)))
        for leg in found.legs:
            lost = set(judge.keeps_broken(widened(belief, leg.in_flight))) - free
            assert all(f'"{rule}"' in leg.reason for rule in lost)
            assert bool(lost) == ("never beats keep" in leg.reason)
            named += len(lost)
            free |= lost
            belief = settled(belief, leg.setting)
    assert named > 0
