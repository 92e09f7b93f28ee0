"""The theorem against the planner: what it proves, the planner finds in as few legs."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.belief import known, unknown, widened
from bridge.core.control import Kind
from bridge.core.demand import Demand, Sentence
from bridge.core.judge import HouseJudge
from bridge.core.leg import Crossing
from bridge.core.loudness import loudness_of
from bridge.core.planner import Planner
from bridge.core.settings import Reached
from bridge.core.studio import Studio
from bridge.core.swift import Swift
from tests.core.sketch import random_studio


def plain_studio(seed: int) -> Studio:
    """A random studio whose selector and level stand still, with a keep."""
    studio = random_studio(seed, most_gain_db=-1.0)
    keep = Sentence(Demand.KEEP, "stream", "host", "stream hears host")
    return replace(studio, sentences=(keep,))


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 10**9))
def test_what_is_proved_at_a_stroke_is_safe_in_two_legs(seed: int) -> None:
    studio = plain_studio(seed)
    rng = random.Random(seed)
    judge = HouseJudge(studio)
    swift = Swift(judge)
    still = {n: rng.choice(c.values) for n, c in studio.controls.items()}
    switches = [n for n, c in studio.controls.items() if c.kind is Kind.SWITCH]
    ends = [
        Reached(known({**still, **{n: rng.random() < 0.5 for n in switches}}), ())
        for _ in range(2)
    ]
    if any(judge.nevers_broken(end.belief) for end in ends):
        return
    stroke = swift.stroke(*ends)
    if stroke is None:
        return
    before, after = (end.belief for end in ends)
    goal = {n: next(iter(after[n])) for n in switches}
    # by its own words: cuts first, then opens; every corner of both legs is clean
    loudness = loudness_of(studio.graph)
    moving = [(n, v) for n, v in goal.items() if before[n] != {v}]
    cuts = [
        (n, v) for n, v in moving if loudness.not_louder(n, v, next(iter(before[n])))
    ]
    opens = [change for change in moving if change not in cuts]
    assert stroke.cuts + stroke.opens == len(moving)
    after_cuts = {**before, **{n: frozenset({v}) for n, v in cuts}}
    for belief, leg in ((before, cuts), (after_cuts, opens)):
        wide = widened(belief, leg)
        assert not judge.nevers_broken(wide)
        both = judge.keeps_broken(before).keys() | judge.keeps_broken(after).keys()
        assert judge.keeps_broken(wide).keys() <= both
    way = Planner(judge)(before, goal)
    assert isinstance(way, Crossing)
    assert len(way.legs) <= stroke.legs


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10**9))
def test_a_complete_scene_is_entered_from_the_unknown_by_cuts_first(seed: int) -> None:
    studio = plain_studio(seed)
    rng = random.Random(seed)
    switches = {n: c for n, c in studio.controls.items() if c.kind is Kind.SWITCH}
    gates = replace(
        studio.graph,
        edges=tuple(
            replace(e, gates=tuple(g for g in e.gates if g.control in switches))
            for e in studio.graph.edges
        ),
    )
    studio = replace(studio, controls=switches, graph=gates)
    judge = HouseJudge(studio)
    goal = {n: rng.random() < 0.5 for n in switches}
    end = Reached(known(goal), ())
    if judge.nevers_broken(end.belief):
        return
    assert Swift(judge).from_unknown(end) is not None
    start = unknown(studio.controls)
    loudness = loudness_of(studio.graph)
    cuts = {n: v for n, v in goal.items() if loudness.quietest(n, (True, False)) == v}
    after_cuts = {**start, **{n: frozenset({v}) for n, v in cuts.items()}}
    assert judge.nevers_broken(after_cuts) == {}
    assert judge.nevers_broken(widened(after_cuts, goal.items())) == {}
