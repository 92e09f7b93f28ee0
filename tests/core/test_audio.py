"""The model against mixed audio: noise sent through the studio, sample by sample."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.belief import known
from bridge.core.hearing import Bound, Hearing
from tests.core.audio import RATE_HZ, echo_of, render
from tests.core.sketch import random_studio


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**9))
def test_rendered_noise_has_the_levels_and_delays_of_the_model(seed: int) -> None:
    """Where the model says never the audio is exactly silent; elsewhere each path is
    found in the noise at its delay with its level, within 0.1 dB."""
    rng = random.Random(seed)
    studio = random_studio(seed, loops=False)
    setting = {n: rng.choice(c.values) for n, c in studio.controls.items()}
    corner = Hearing(studio.graph).corner(known(setting), Bound.LOUDEST)
    noise = np.random.default_rng(seed).standard_normal(RATE_HZ)
    for source in studio.sources:
        carried = render(studio, setting, source, noise)
        for listener in studio.listeners:
            node = listener.nodes[0]
            if node in source.nodes:
                continue
            arrivals = corner.arrivals(source.nodes, node)
            if arrivals.total == 0.0:
                assert not carried[node].any()
                continue
            taps: dict[int, float] = {}
            for path in arrivals.paths:
                late = sum(
                    max(1, round(studio.graph.edges[e].delay_ms * RATE_HZ / 1000))
                    for e in path.edges
                )
                taps[late] = taps.get(late, 0.0) + path.gain
                # the model's delay and the rendered one differ by rounding only
                exact = path.delay_ms * RATE_HZ / 1000
                assert abs(late - exact) <= len(path.edges)
            found = echo_of(noise, carried[node], sorted(taps))
            for late, gain in zip(sorted(taps), found, strict=True):
                assert gain == pytest.approx(taps[late], rel=0.0116, abs=1e-5)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**9))
def test_rendered_audio_never_exceeds_the_loudest_corner(seed: int) -> None:
    """A steady full-scale signal: no sample is above the coherent limit, loops too."""
    studio = random_studio(seed, most_gain_db=-6.0)
    rng = random.Random(seed)
    setting = {n: rng.choice(c.values) for n, c in studio.controls.items()}
    belief = {n: frozenset(c.values) for n, c in studio.controls.items()}
    corner = Hearing(studio.graph).corner(belief, Bound.LOUDEST)
    signs = np.random.default_rng(seed).choice([-1.0, 1.0], RATE_HZ // 2)
    for source in studio.sources:
        carried = render(studio, setting, source, signs)
        limit = corner.totals(source.nodes)
        for node, samples in carried.items():
            assert np.abs(samples).max() <= limit.get(node, 0.0) * (1 + 1e-9)
