"""Ways through the graph with every gate still open to choice.

A way is what a path asks of the controls: a set of (control, value). Two paths that
ask the same (the two lanes of a stereo bus) are one way.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product

from bridge.core.control import Control, Kind, Reach
from bridge.core.graph import Edge
from bridge.core.hearing import factor
from bridge.core.studio import Studio
from bridge.core.units import amplitude
from bridge.core.walks import FLOOR
from bridge.core.wire import Value

Way = frozenset[tuple[str, Value]]

MOST_WAYS = 256
"""Ways kept for one pair; a desk gives one to four, a patch bay tens."""

MOST_STEPS = 200_000
"""Edges walked for one pair before the search stops: about half a second."""


class TooMany(Exception):
    """The limit was hit, so the ways are not all there."""


def ways(
    studio: Studio,
    sources: tuple[int, ...],
    goals: frozenset[int],
    *,
    through: frozenset[int] | None = None,
    at_least: float = FLOOR,
) -> tuple[Way, ...]:
    """The ways from a source to any of the goals, the least demanding first.

    through: nodes of which a path must pass one. at_least: amplitude below which a
    path does not count. Raises TooMany.
    """
    out: dict[int, list[Edge]] = {}
    for edge in studio.graph.edges:
        out.setdefault(edge.source, []).append(edge)
    found: dict[Way, None] = {}
    steps = 0
    stack: list[tuple[int, Mapping[str, Value], float, frozenset[int]]] = [
        (node, {}, 1.0, frozenset({node})) for node in sources
    ]
    while stack:
        node, asked, gain, trail = stack.pop()
        if node in goals and (through is None or trail & through):
            found[frozenset(asked.items())] = None
            continue
        for edge in out.get(node, ()):
            steps += 1
            if steps > MOST_STEPS or len(found) > MOST_WAYS:
                raise TooMany
            if edge.target in trail:
                continue
            for more, passed in _openings(studio, edge, asked):
                louder = gain * amplitude(edge.gain_db) * passed
                if louder >= at_least:
                    stack.append((edge.target, more, louder, trail | {edge.target}))
    least = [way for way in found if not any(other < way for other in found)]
    return tuple(sorted(least, key=lambda way: (len(way), sorted(map(str, way)))))


def _openings(
    studio: Studio, edge: Edge, asked: Mapping[str, Value]
) -> Iterator[tuple[Mapping[str, Value], float]]:
    """Each way to open an edge that does not contradict what is asked already."""
    choices = []
    for gate in edge.gates:
        control = studio.controls[gate.control]
        open_at = [
            (gate.control, value, passed)
            for value in _allowed(control)
            if (passed := factor(gate, value)) > 0.0
        ]
        choices.append(open_at)
    for chosen in product(*choices):
        more = dict(asked)
        passed = 1.0
        for name, value, gain in chosen:
            if more.setdefault(name, value) != value:
                break
            passed *= gain
        else:
            yield more, passed


def _allowed(control: Control) -> tuple[Value, ...]:
    if control.reach is Reach.FIXED and control.at_power_up is not None:
        return (control.at_power_up,)
    if control.kind is Kind.LEVEL:
        return (nominal(control),)
    return control.values


def nominal(control: Control) -> Value:
    """The level nearest to 0 dB, not above it if there is a choice."""
    numbers = [value for value in control.values if isinstance(value, float)]
    return max((n for n in numbers if n <= 0.0), default=min(numbers))
