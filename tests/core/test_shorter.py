"""The shorter graph says the same as the whole one, at the nodes that are kept."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.hearing import Bound, Hearing
from bridge.core.loops import loop_gain
from bridge.core.shorter import shorter
from bridge.core.units import amplitude
from tests.core.sketch import random_studio


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 10**9))
def test_sums_arrivals_and_loops_are_the_same(seed: int) -> None:
    studio = random_studio(seed, most_gain_db=-1.0)
    rng = random.Random(seed)
    belief = {
        n: frozenset(rng.sample(c.values, rng.randint(1, len(c.values))))
        for n, c in studio.controls.items()
    }
    ends = {n for thing in (*studio.sources, *studio.listeners) for n in thing.nodes}
    whole = Hearing(studio.graph).corner(belief, Bound.LOUDEST)
    fewer = Hearing(shorter(studio.graph, ends)).corner(belief, Bound.LOUDEST)
    assert loop_gain(fewer.gains) == pytest.approx(loop_gain(whole.gains), rel=1e-9)
    for source in studio.sources:
        for node in ends:
            expected = whole.totals(source.nodes).get(node, 0.0)
            found = fewer.totals(source.nodes).get(node, 0.0)
            assert found == pytest.approx(expected, rel=1e-9, abs=1e-15)
            assert [
                (pytest.approx(p.gain), pytest.approx(p.delay_ms))
                for p in whole.arrivals(source.nodes, node).paths
                if p.gain > amplitude(-99.0)
            ] == [
                (p.gain, p.delay_ms)
                for p in fewer.arrivals(source.nodes, node).paths
                if p.gain > amplitude(-99.0)
            ]


def test_a_chain_becomes_one_edge() -> None:
    studio = random_studio(3, loops=False)
    ends = {n for thing in (*studio.sources, *studio.listeners) for n in thing.nodes}
    less = shorter(studio.graph, ends)
    touched = {n for edge in less.edges for n in (edge.source, edge.target)}
    for node in touched - ends:
        into = sum(edge.target == node for edge in less.edges)
        out = sum(edge.source == node for edge in less.edges)
        assert into > 1
        assert out > 1
