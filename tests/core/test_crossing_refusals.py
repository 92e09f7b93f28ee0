"""Refusals: the fewest rules, by the exhaustive planner's word, and honest bounds."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations, product

import pytest

from bridge.core.belief import Belief, known
from bridge.core.collision import refusal_of
from bridge.core.corners import Passage
from bridge.core.crossing import plan
from bridge.core.leg import Crossing, Refusal
from bridge.core.loudness import Loudness, loudness_of
from bridge.core.means import Course, Means
from bridge.core.ordering import Ordered, Undecided, Unordered, fewest_legs
from tests.core.crossing_examples import Wire, b5, b7, bench
from tests.core.sketch import gated, selector, switch
from tests.fakes.every_order import EveryOrder
from tests.fakes.gain_judge import Bench, GainJudge
from tests.fakes.random_benches import Change, random_change, random_demands
from tests.fakes.times import seeds


def means_of(wanted: Bench) -> Means:
    return Means(GainJudge(wanted), wanted.controls, loudness_of(wanted.graph))


def planned(change: Change) -> Crossing | Refusal:
    means = means_of(change.bench)
    return plan(
        means.judge,
        means.controls,
        known(change.start),
        change.goal,
        loudness=means.loudness,
    )


def ordered_with(change: Change, rules: set[str]) -> bool:
    """Whether there is a safe order if only these rules exist."""
    wanted = replace(
        change.bench,
        limits=tuple(rule for rule in change.bench.limits if rule.name in rules),
        floors=tuple(rule for rule in change.bench.floors if rule.name in rules),
    )
    ways = {name: (change.start[name], value) for name, value in change.goal.items()}
    rest = {n: v for n, v in change.start.items() if n not in change.goal}
    return EveryOrder(wanted, ways, rest).fewest_legs() is not None


Refused = list[tuple[Change, Refusal]]


@pytest.fixture(scope="module")
def refused() -> Refused:
    """Random changes that are refused."""
    changes = [random_change(seed, 5, selectors=0.3) for seed in seeds(100)]
    changes += [random_demands(seed, 5, rules=8) for seed in seeds(60)]
    found = [(change, planned(change)) for change in changes]
    return [(change, why) for change, why in found if isinstance(why, Refusal)]


def test_the_rules_named_collide_and_none_can_be_left_out(refused: Refused) -> None:
    assert len(refused) > 10
    for change, found in refused:
        rules = set(found.rules)
        assert not ordered_with(change, rules), (change, found)
        for rule in rules:
            assert ordered_with(change, rules - {rule}), (change, found, rule)


def test_every_demand_is_of_a_rule_named_and_of_controls_that_move(
    refused: Refused,
) -> None:
    for change, found in refused:
        assert {demand.rule for demand in found.demands} == set(found.rules)
        for demand in found.demands:
            assert set(demand.first) <= set(change.goal)
            assert set(demand.then) <= set(change.goal)


def test_the_frontier_is_stopped_by_rules(refused: Refused) -> None:
    for _, found in refused:
        assert found.searched_all
        assert found.frontier
        assert all(stopped.rules for stopped in found.frontier)


def test_every_safe_order_obeys_every_demand_of_a_single_pair() -> None:
    """A forced pair is forced: no safe order of the colliding rules' rest has it."""
    example = b7()
    found = plan(
        GainJudge(example.bench),
        example.bench.controls,
        known(example.start),
        example.goal,
        loudness=loudness_of(example.bench.graph),
    )
    assert isinstance(found, Refusal)
    for demand in found.demands:
        change = Change(example.bench, example.start, example.goal)
        (first,), (then,) = demand.first, demand.then
        assert not reachable_with(change, demand.rule, done=then, not_done=first)


def reachable_with(change: Change, rule: str, *, done: str, not_done: str) -> bool:
    """Whether any setting that keeps this rule has one change and not the other."""
    wanted = replace(
        change.bench,
        limits=tuple(r for r in change.bench.limits if r.name == rule),
        floors=tuple(r for r in change.bench.floors if r.name == rule),
    )
    judge = GainJudge(wanted)
    free = [name for name in change.goal if name not in (done, not_done)]
    for chosen in product((False, True), repeat=len(free)):
        setting = dict(change.start)
        setting[done] = change.goal[done]
        for name, moved in zip(free, chosen, strict=True):
            setting[name] = change.goal[name] if moved else change.start[name]
        broken = {**judge.nevers_broken(known(setting))}
        broken |= judge.keeps_broken(known(setting))
        if not broken:
            return True
    return False


# Hard cases

Clauses = list[tuple[int, int, int]]

FANO: Clauses = [
    (0, 1, 2),
    (0, 3, 4),
    (0, 5, 6),
    (1, 3, 5),
    (1, 4, 6),
    (2, 3, 6),
    (2, 4, 5),
]
"""The seven lines of the Fano plane: no 2-colouring leaves all of them mixed, and no
smaller set of triples does that (property B, m(3) = 7; Erdős 1963, from memory)."""


def colouring(clauses: Clauses, variables: int) -> Change:
    """A crossing that exists if and only if the triples have a proper 2-colouring.

    One cut, and an open for each variable. For each clause: never its three and the
    cut all on; keep one of its three or the cut on. What is open when the cut goes is
    the colouring. (Monotone not-all-equal 3-SAT, NP-complete: Schaefer 1978, from
    memory.)
    """
    names = [f"x{i}" for i in range(variables)]
    wires: list[Wire] = []
    never, keep = [], []
    for number, clause in enumerate(clauses):
        a, b, c, d = (f"{letter}{number}" for letter in "abcd")
        gates = [gated(name) for name in (*(names[i] for i in clause), "cut")]
        wires.append((a, b, *gates))
        wires += [(c, d, gate) for gate in gates]
        never.append((f"never {number}", a, b, 0.0))
        keep.append((f"keep {number}", c, d, 0.9))
    nodes = " ".join(f"{x}{i}" for i in range(len(clauses)) for x in "abcd")
    controls = [switch(name) for name in (*names, "cut")]
    start = {**dict.fromkeys(names, False), "cut": True}
    goal = {name: not value for name, value in start.items()}
    return Change(bench(nodes, wires, controls, never, keep), start, goal)


def is_colourable(clauses: Clauses, variables: int) -> bool:
    return any(
        all(len({colour[i] for i in clause}) == 2 for clause in clauses)
        for colour in product((False, True), repeat=variables)
    )


def test_a_crossing_exists_if_a_colouring_does() -> None:
    """And then it has three legs: some opens, the cut, the other opens."""
    answers = []
    for seed in seeds(25):
        rng = random.Random(seed)
        every = list(combinations(range(5), 3))
        clauses = rng.sample(every, rng.randint(4, len(every)))
        found = planned(colouring(clauses, 5))
        answers.append(is_colourable(clauses, 5))
        assert isinstance(found, Crossing) == answers[-1]
        if isinstance(found, Crossing):
            assert len(found.legs) == 3
    assert {True, False} == set(answers)


def hard_passage() -> tuple[Means, Passage]:
    """The Fano plane and six switches that are in nobody's way: fourteen steps."""
    change = colouring(FANO, 13)
    means = means_of(change.bench)
    return means, Course(change.goal).passage(means, known(change.start))


def test_a_search_given_up_says_so() -> None:
    """Fourteen steps are too many to try every set, and three tries are too few."""
    means, passage = hard_passage()
    found = fewest_legs(passage, tries=3)
    assert isinstance(found, Undecided)
    refusal = refusal_of(means, passage, found)
    assert not refusal.searched_all
    assert refusal.words.startswith("no safe order was found, and the search was given")
    assert refusal.rules
    assert refusal.frontier


def test_the_same_search_carried_through_is_a_proof() -> None:
    assert not is_colourable(FANO, 7)
    _, passage = hard_passage()
    assert isinstance(fewest_legs(passage), Unordered)
    assert all(is_colourable(FANO[:i] + FANO[i + 1 :], 7) for i in range(7))


def test_a_long_order_that_is_not_proved_shortest_is_taken_all_the_same() -> None:
    """Fourteen rungs: only the eager order is left when the tries are used up."""
    example = b5(14)
    means = means_of(example.bench)
    passage = Course(example.goal).passage(means, known(example.start))
    found = fewest_legs(passage, tries=0)
    assert isinstance(found, Ordered)
    assert not found.surely
    assert len(found.order) == 14


def test_without_a_proof_the_fewest_rules_are_found_all_the_same() -> None:
    """One try is not enough for lessons; that every set fails is proof as well."""
    example = b7()
    means = means_of(example.bench)
    passage = Course(example.goal).passage(means, known(example.start))
    found = fewest_legs(passage, tries=1)
    assert isinstance(found, Unordered)
    assert not found.proved
    refusal = refusal_of(means, passage, found)
    assert refusal.searched_all
    assert refusal.rules == ("guest 1 hears guest 2", "guest 2 hears self")


class Moody:
    """A judge that is not monotone: it minds one unsure control, but not two."""

    def nevers_broken(self, belief: Belief) -> Mapping[str, float]:
        unsure = sum(len(values) > 1 for values in belief.values())
        return {"mood": 1.0} if unsure == 1 else {}

    def keeps_broken(self, belief: Belief) -> Mapping[str, float]:
        del belief
        return {}


def test_a_judge_that_is_not_monotone_is_not_argued_with() -> None:
    """Nothing can be learned from it, and the search ends."""
    wanted = bench("a b", [("a", "b", gated("x"))], [selector("x", "p", "q")])
    unordered = Loudness({"x": ((("p", 1.0),), (("q", 1.0),))})
    means = Means(Moody(), wanted.controls, unordered)
    passage = Course({"x": "q"}).passage(means, known({"x": "p"}))
    assert not isinstance(fewest_legs(passage), Ordered)
