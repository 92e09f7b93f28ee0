"""Mixing for real: a studio rendered sample by sample, as an oracle for the model.

Knows nothing of paths, sums or bounds: every node adds up what comes in, every edge
scales and delays it. A delay is rounded to whole samples, one at the least.
"""

from __future__ import annotations

import numpy as np

from bridge.core.belief import Setting
from bridge.core.hearing import factor
from bridge.core.studio import Source, Studio

RATE_HZ = 4000
"""Enough to tell delays 0.25 ms apart, and quick."""

Samples = np.ndarray


def render(
    studio: Studio, setting: Setting, source: Source, signal: Samples
) -> dict[int, Samples]:
    """What every node carries while one source plays the signal into its nodes."""
    edges = []
    for edge in studio.graph.edges:
        gain = 10 ** (edge.gain_db / 20)
        for gate in edge.gates:
            gain *= factor(gate, setting[gate.control])
        if gain:
            late = max(1, round(edge.delay_ms * RATE_HZ / 1000))
            edges.append((edge.source, edge.target, gain, late))
    carried = np.zeros((len(studio.graph.nodes), len(signal)))
    for node in source.nodes:
        carried[node] += signal
    # An edge is late by a sample or more, so what is needed is there already.
    for now in range(len(signal)):
        for start, end, gain, late in edges:
            if now >= late:
                carried[end, now] += gain * carried[start, now - late]
    return dict(enumerate(carried))


def echo_of(signal: Samples, heard: Samples, delays: list[int]) -> list[float]:
    """Least-squares gains of the delayed copies of the signal in what is heard."""
    columns = [np.concatenate([np.zeros(d), signal[: len(signal) - d]]) for d in delays]
    gains, *_ = np.linalg.lstsq(np.stack(columns, axis=1), heard, rcond=None)
    return [float(gain) for gain in gains]
