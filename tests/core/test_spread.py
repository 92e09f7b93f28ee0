"""Sums over all walks: the same to the last digit whatever there is elsewhere."""

from __future__ import annotations

import random

import pytest

from bridge.core.spread import Spread
from tests.fakes.gain_graphs import chance_graph


@pytest.mark.parametrize("edges", [16, 30])
def test_an_edge_that_a_source_does_not_reach_changes_no_digit(edges: int) -> None:
    """Harm is compared as it is, so a cut elsewhere must not seem to add to it."""
    for seed in range(150):
        chance = random.Random(seed)
        graph = chance_graph(seed, size=12, edges=edges, loudest_db=-9.0)
        alone = Spread(graph).from_nodes((0,))
        order = chance.sample(range(12), 12)
        elsewhere = {12: dict.fromkeys(order[:4], 0.5)}
        more = elsewhere | {node: graph[node] for node in order}
        assert Spread(more).from_nodes((0,)) == alone, seed
