"""The shorter graph says the same as the whole one, at the nodes that are kept."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.hearing import Arrivals, Bound, Hearing
from bridge.core.loops import loop_gain
from bridge.core.shorter import shorter
from bridge.core.studio import Studio
from bridge.core.units import amplitude
from tests.core.sketch import random_studio


def ends_of(studio: Studio) -> set[int]:
    sources = [source.nodes for source in studio.sources]
    listeners = [listener.nodes for listener in studio.listeners]
    return {node for nodes in (*sources, *listeners) for node in nodes}


def _strong(arrivals: Arrivals) -> list[tuple[float, float]]:
    return [(p.gain, p.delay_ms) for p in arrivals.paths if p.gain > amplitude(-99.0)]


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 10**9))
def test_sums_arrivals_and_loops_are_the_same(seed: int) -> None:
    studio = random_studio(seed, most_gain_db=-1.0)
    rng = random.Random(seed)
    belief = {
        n: frozenset(rng.sample(c.values, rng.randint(1, len(c.values))))
        for n, c in studio.controls.items()
    }
    ends = ends_of(studio)
    whole = Hearing(studio.graph).corner(belief, Bound.LOUDEST)
    fewer = Hearing(shorter(studio.graph, ends)).corner(belief, Bound.LOUDEST)
    assert loop_gain(fewer.gains) == pytest.approx(loop_gain(whole.gains), rel=1e-9)
    for source in studio.sources:
        for node in ends:
            expected = whole.totals(source.nodes).get(node, 0.0)
            found = fewer.totals(source.nodes).get(node, 0.0)
            assert found == pytest.approx(expected, rel=1e-9, abs=1e-15)
            expected_paths = _strong(whole.arrivals(source.nodes, node))
            found_paths = _strong(fewer.arrivals(source.nodes, node))
            assert len(found_paths) == len(expected_paths)
            for one, other in zip(found_paths, expected_paths, strict=True):
                assert one == pytest.approx(other)


def test_a_chain_becomes_one_edge() -> None:
    studio = random_studio(3, loops=False)
    ends = ends_of(studio)
    less = shorter(studio.graph, ends)
    touched = {n for edge in less.edges for n in (edge.source, edge.target)}
    for node in touched - ends:
        into = sum(edge.target == node for edge in less.edges)
        out = sum(edge.source == node for edge in less.edges)
        assert into > 1
        assert out > 1
