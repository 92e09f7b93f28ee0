"""Mixing for real: a studio rendered sample by sample, as an oracle for the model.

Knows nothing of paths, sums or bounds: every node adds up what comes in, every edge
scales and delays it. A delay is rounded to whole samples, one at the least.
"""

from __future__ import annotations

import numpy as np

from bridge.core.belief import Setting
from bridge.core.graph import Source
from bridge.core.hearing import factor
from bridge.core.studio import Studio

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
    nodes, length = len(studio.graph.nodes), len(signal)
    starts, ends, gains, lates = np.array(edges or [(0, 0, 0.0, 1)]).T
    starts, ends, lates = starts.astype(int), ends.astype(int), lates.astype(int)
    before = int(lates.max())  # so much silence stands before the signal
    width = before + length
    carried = np.zeros((nodes, width))
    for node in source.nodes:
        carried[node, before:] += signal
    samples, places = carried.reshape(-1), starts * width + before - lates
    # An edge is late by a sample or more, so what is needed is there already.
    for now in range(length):
        arriving = gains * samples[places + now]
        carried[:, before + now] += np.bincount(ends, arriving, nodes)
    return dict(enumerate(carried[:, before:]))


def echo_of(signal: Samples, heard: Samples, delays: list[int]) -> list[float]:
    """Least-squares gains of the delayed copies of the signal in what is heard."""
    columns = [np.concatenate([np.zeros(d), signal[: len(signal) - d]]) for d in delays]
    gains, *_ = np.linalg.lstsq(np.stack(columns, axis=1), heard, rcond=None)
    return [float(gain) for gain in gains]
