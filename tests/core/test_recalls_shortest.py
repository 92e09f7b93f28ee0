"""The planner with recalls against the exhaustive one, on random studios."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from bridge.core.belief import known, settled
from bridge.core.crossing import plan
from bridge.core.guard import refused_because
from bridge.core.leg import Crossing, Refusal
from bridge.core.loudness import loudness_of
from bridge.core.recall import Recall
from bridge.core.wire import Midi
from tests.fakes.every_recall import EveryRecall
from tests.fakes.gain_judge import GainJudge
from tests.fakes.random_benches import Change, random_change, random_demands
from tests.fakes.times import seeds


def random_recalls(rng: random.Random, change: Change) -> list[Recall]:
    """One to three: most bring what is wanted, some bring something else as well."""
    names, recalls = sorted(change.goal), []
    for number in range(rng.randint(1, 3)):
        some = rng.sample(names, min(len(names), rng.randint(2, 4)))
        values = {name: change.goal[name] for name in some}
        values |= {
            name: value
            for name, value in change.start.items()
            if name not in change.goal and rng.random() < 0.5
        }
        if rng.random() < 0.1:
            values[some[0]] = change.start[some[0]]
        message = Midi("desk", bytes((0xC0, number)))
        atomic = rng.random() < 0.8
        recalls.append(Recall(f"memory {number}", values, (message,), atomic=atomic))
    return recalls


MAKERS: list[tuple[Callable[[int], Change], int]] = [
    (lambda seed: random_change(seed, 4), 120),
    (lambda seed: random_change(seed, 6, selectors=0.1), 30),
    (lambda seed: random_demands(seed, 5, rules=9), 40),
    (lambda seed: random_demands(seed, 6, rules=12), 20),
]


@pytest.mark.parametrize("which", range(len(MAKERS)))
def test_fewest_legs_and_refusals_are_those_of_the_exhaustive_search(
    which: int,
) -> None:
    maker, count = MAKERS[which]
    helped = 0
    for seed in seeds(count, first=which * 10_000):
        change = maker(seed)
        recalls = random_recalls(random.Random(seed), change)
        found = planned(change, recalls)
        fewest = EveryRecall(change, recalls).fewest_legs()
        if isinstance(found, Refusal):
            assert found.searched_all
            assert fewest is None, (seed, found.words, recalls)
        else:
            assert len(found.legs) == fewest, (seed, found.legs, recalls)
            show_safe(change, recalls, found)
            helped += any(leg.needs_instant for leg in found.legs)
    assert helped > count // 60


def planned(change: Change, recalls: list[Recall]) -> Crossing | Refusal:
    judge, controls = GainJudge(change.bench), change.bench.controls
    loudness = loudness_of(change.bench.graph)
    start = known(change.start)
    return plan(judge, controls, start, change.goal, loudness=loudness, recalls=recalls)


def show_safe(change: Change, recalls: list[Recall], crossing: Crossing) -> None:
    """The guard lets each leg pass, and nothing that it can show is forbidden."""
    judge, oracle = GainJudge(change.bench), EveryRecall(change, recalls)
    belief, done = known(change.start), frozenset[str]()
    for leg in crossing.legs:
        lots, single, blocks = [], [], []
        for step in leg.steps:
            names = {change.control for change in step.changes}
            if step.recall is not None and oracle.block(step.recall, done) == names:
                lots.append(dict(step.recall.values))
                blocks.append(frozenset(names))
            else:
                single += [(c.control, c.value) for c in step.changes]
                blocks += [frozenset({name}) for name in names]
        assert not refused_because(judge, belief, single, lots)
        assert oracle.safe(done, tuple(blocks)), leg
        done = done.union(*blocks)
        belief = settled(belief, leg.setting)
    assert belief == known({**change.start, **change.goal})
