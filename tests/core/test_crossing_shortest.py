"""The planner against the exhaustive one: same legs, same refusals, safe every way."""

from __future__ import annotations

import random
from collections.abc import Iterable
from itertools import permutations

import pytest

from bridge.core.belief import known, settled, widened
from bridge.core.corners import Passage
from bridge.core.crossing import plan
from bridge.core.guard import refused_because
from bridge.core.leg import Crossing, Refusal
from bridge.core.lessons import School
from bridge.core.loudness import loudness_of
from bridge.core.means import Course, Means
from bridge.core.ordering import Ordered, eager, exhaustive, fewest_legs
from bridge.core.precedence import Work
from tests.fakes.every_order import EveryOrder
from tests.fakes.gain_judge import GainJudge, Truth
from tests.fakes.random_benches import Change, random_change, random_demands
from tests.fakes.times import seeds

ROUTED = [
    pytest.param(4, 300, id="4 controls"),
    pytest.param(6, 100, id="6 controls"),
    pytest.param(8, 15, id="8 controls"),
    pytest.param(12, 1, id="12 controls"),
]
DEMANDED = [
    pytest.param(4, 6, 120, id="4 controls, 6 rules"),
    pytest.param(6, 10, 25, id="6 controls, 10 rules"),
    pytest.param(8, 14, 5, id="8 controls, 14 rules"),
]


def planned(change: Change) -> Crossing | Refusal:
    return plan(
        GainJudge(change.bench),
        change.bench.controls,
        known(change.start),
        change.goal,
        loudness=loudness_of(change.bench.graph),
    )


def every_order(change: Change) -> EveryOrder:
    ways = {name: (change.start[name], value) for name, value in change.goal.items()}
    rest = {n: v for n, v in change.start.items() if n not in change.goal}
    return EveryOrder(change.bench, ways, rest)


def passage_of(change: Change) -> Passage:
    loudness = loudness_of(change.bench.graph)
    means = Means(GainJudge(change.bench), change.bench.controls, loudness)
    return Course(change.goal).passage(means, known(change.start))


@pytest.mark.parametrize(("controls", "count"), ROUTED)
def test_routed_studios_get_the_fewest_legs(controls: int, count: int) -> None:
    compare(random_change(seed, controls) for seed in seeds(count))


@pytest.mark.parametrize(("controls", "rules", "count"), DEMANDED)
def test_demanding_studios_get_the_fewest_legs(
    controls: int, rules: int, count: int
) -> None:
    compare(random_demands(s, controls, rules=rules) for s in seeds(count))


def compare(changes: Iterable[Change]) -> None:
    """Legs and refusals are the exhaustive planner's; what is sent is safe."""
    for change in changes:
        found, fewest = planned(change), every_order(change).fewest_legs()
        if isinstance(found, Refusal):
            assert found.searched_all
            assert fewest is None, f"{change}: refused ({found.words})"
        else:
            assert len(found.legs) == fewest, f"{change}: {found.legs}"
            show_safe(change, found)


def show_safe(change: Change, crossing: Crossing) -> None:
    """Corner by corner, guard, and each true state that each leg can show."""
    judge, belief = GainJudge(change.bench), known(change.start)
    oracle = every_order(change)
    names, state = list(change.goal), oracle.start
    for leg in crossing.legs:
        flying = widened(belief, leg.in_flight)
        assert not refused_because(judge, belief, leg.in_flight)
        assert not judge.nevers_broken(flying)
        assert not judge.keeps_broken(flying)
        moving = frozenset(names.index(c.control) for c in leg.changes)
        assert all(oracle.fine(look) for look in oracle.looks(state, moving))
        state = tuple(stop + (i in moving) for i, stop in enumerate(state))
        belief = settled(belief, leg.setting)
    assert belief == known({**change.start, **change.goal})


def test_every_permutation_with_any_one_lost_breaks_nothing() -> None:
    crossed = 0
    for seed in seeds(15, first=500):
        change = random_change(seed, 5, selectors=0.0)
        found = planned(change)
        if isinstance(found, Crossing):
            crossed += 1
            show_all_arrivals(change, found)
    assert crossed > 8


def show_all_arrivals(change: Change, crossing: Crossing) -> None:
    """Each leg's messages in every order, each of them lost in turn, none or all."""
    truth = Truth(change.bench)
    setting = dict(change.start)
    for leg in crossing.legs:
        passed = {
            tuple({**setting, **dict(order[:count])}.items())
            for lost in (None, *leg.setting)
            for order in permutations(m for m in leg.setting.items() if m[0] != lost)
            for count in range(len(order) + 1)
        }
        for now in passed:
            shown = {name: (value,) for name, value in now}
            assert not truth.nevers_broken(shown)
            assert not truth.keeps_broken(shown)
        setting |= leg.setting


@pytest.mark.parametrize("controls", [5, 7])
def test_two_corners_say_what_every_subset_says(controls: int) -> None:
    """Lemma 2 of the theory: the corners decide, and decide exactly."""
    answers = []
    for seed in seeds(150, first=9_000):
        change, rng = random_change(seed, controls), random.Random(seed)
        passage, oracle = passage_of(change), every_order(change)
        names = [track.controls[0] for track in passage.tracks]
        assert names == list(change.goal)
        state = tuple(int(rng.random() < 0.3) for _ in names)
        leg = frozenset(
            i for i, stop in enumerate(state) if not stop and rng.random() < 0.5
        )
        if oracle.safe(state, frozenset()):
            answers.append(oracle.safe(state, leg))
            assert answers[-1] == (not passage.stopped_by(state, leg)), change
    assert min(answers.count(True), answers.count(False)) > 15


@pytest.mark.parametrize("controls", [4, 6, 8])
def test_the_way_back_has_as_many_legs(controls: int) -> None:
    for seed in seeds(30, first=2_000):
        change = random_change(seed, controls)
        end = {**change.start, **change.goal}
        home = {name: change.start[name] for name in change.goal}
        there, back = planned(change), planned(Change(change.bench, end, home))
        assert isinstance(there, Crossing) == isinstance(back, Crossing)
        if isinstance(there, Crossing) and isinstance(back, Crossing):
            assert len(there.legs) == len(back.legs)


def test_both_exact_searches_agree() -> None:
    for seed in seeds(15, first=100):
        change = random_demands(seed, 6, rules=9)
        passage = passage_of(change)
        learned = School(passage, Work(100_000)).order(passage.steps)
        fewest = exhaustive(passage_of(change), passage.steps)
        assert (learned is None) == (fewest is None)
        if fewest is not None:
            found = fewest_legs(passage_of(change))
            assert isinstance(found, Ordered)
            assert len(found.order) == len(fewest)


def test_out_of_tries_every_set_of_steps_is_tried_instead() -> None:
    for seed in seeds(15, first=100):
        change = random_demands(seed, 6, rules=9)
        found = fewest_legs(passage_of(change), tries=0)
        fewest = every_order(change).fewest_legs()
        assert isinstance(found, Ordered) == (fewest is not None)
        if isinstance(found, Ordered):
            assert found.surely
            assert len(found.order) == fewest


def test_the_eager_order_alone_is_not_enough() -> None:
    """Why there is an exact search: the eager one gets stuck where a way exists."""
    stuck = 0
    for seed in range(80):
        change = random_demands(seed, 6, rules=10)
        order = eager(passage_of(change))
        solvable = every_order(change).fewest_legs() is not None
        stuck += solvable and not isinstance(order, tuple)
    assert stuck > 0
