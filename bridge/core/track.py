"""The values that a control takes on its way, one stop after the other.

Most controls have two stops: what may be in force now, and the goal. One that helps
out for a moment has three. Values lie at stops as sets, since the first may be unsure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise

from bridge.core.control import Control
from bridge.core.loudness import Direction, Loudness
from bridge.core.wire import Value

ABSENT = -1
"""The place of a control whose gates all let nothing through (as NOWHERE does)."""


@dataclass(frozen=True, slots=True)
class Track:
    """A control and the values it takes in a crossing, in order.

    Several controls are on one track when one recall sets them in the same instant.

    stops: for each stop, for each control, the values that may be in force there.
    ways: the direction of each step from a stop to the next.
    gap: for each control whether it passes NOWHERE on its way.
    quietest: the stop not louder than any other, or ABSENT.
    loudest: the stop not quieter than any other, or None.
    """

    controls: tuple[str, ...]
    stops: tuple[tuple[frozenset[Value], ...], ...]
    ways: tuple[Direction, ...]
    gap: tuple[bool, ...]
    quietest: int
    loudest: int | None

    @property
    def at_once(self) -> bool:
        """Whether its controls change in the same instant."""
        return len(self.controls) > 1


def track_of(
    controls: Mapping[str, Control],
    loudness: Loudness,
    names: tuple[str, ...],
    stops: Iterable[tuple[frozenset[Value], ...]],
) -> Track:
    """Lay a track over these stops, for one control or for those of a recall."""
    laid = tuple(stops)
    return Track(
        controls=names,
        stops=laid,
        ways=tuple(
            _way(loudness, names, before, after) for before, after in pairwise(laid)
        ),
        gap=tuple(controls[name].gap for name in names),
        quietest=_quietest(loudness, names, laid),
        loudest=_loudest(loudness, names, laid),
    )


def _way(
    loudness: Loudness,
    names: tuple[str, ...],
    before: tuple[frozenset[Value], ...],
    after: tuple[frozenset[Value], ...],
) -> Direction:
    ways = {
        loudness.direction(name, olds, value)
        for name, olds, (value,) in zip(names, before, after, strict=True)
    }
    return ways.pop() if len(ways) == 1 else Direction.MOVE


def _quietest(
    loudness: Loudness,
    names: tuple[str, ...],
    stops: tuple[tuple[frozenset[Value], ...], ...],
) -> int:
    """The stop whose loudest corner is not louder than that of any other."""

    def below(one: int, other: int) -> bool:
        return all(
            any(loudness.not_louder(name, value, top) for top in tops)
            for name, values, tops in zip(names, stops[one], stops[other], strict=True)
            for value in values
        )

    every = range(len(stops))
    for one in every:
        if all(below(one, other) for other in every):
            return one
    return ABSENT


def _loudest(
    loudness: Loudness,
    names: tuple[str, ...],
    stops: tuple[tuple[frozenset[Value], ...], ...],
) -> int | None:
    """The stop whose quietest corner is not quieter than that of any other."""

    def above(one: int, other: int) -> bool:
        return all(
            any(loudness.not_louder(name, low, value) for low in lows)
            for name, values, lows in zip(names, stops[one], stops[other], strict=True)
            for value in values
        )

    every = range(len(stops))
    return next(
        (one for one in every if all(above(one, other) for other in every)), None
    )
