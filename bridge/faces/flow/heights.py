"""In which order and at which height things stand in each column."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bridge.faces.flow.model import Box

GUTTER = 62.0
GAP = 22.0
MARGIN = 18.0

ROUNDS = 12
"""Sweeps of ordering and straightening; no drawing here changed after eight."""


@dataclass(slots=True)
class Place:
    """A box, or the place of a passing cable (box is None). y is its upper edge."""

    box: Box | None
    column: int
    rank: int
    height: float
    width: float = 0.0
    x: float = 0.0
    y: float = 0.0
    jacks: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Link:
    """From one column to the next; the offsets are of the jacks in their boxes."""

    left: Place
    right: Place
    left_at: float
    right_at: float


def order(grid: Sequence[list[Place]], links: Sequence[Link]) -> None:
    """Sort each column by where its neighbours stand, to and fro."""
    for column in grid:
        _stack(column)
    for sweep in range(ROUNDS):
        rightwards = sweep % 2 == 0
        for column in grid if rightwards else list(reversed(grid)):
            keys = {}
            for place in column:
                ends = [
                    (k.left.y + k.left_at) if rightwards else (k.right.y + k.right_at)
                    for k in links
                    if (k.right if rightwards else k.left) is place
                ]
                keys[id(place)] = sum(ends) / len(ends) if ends else place.y
            column.sort(key=lambda p: (keys[id(p)], p.rank))
            _stack(column)


def _stack(column: Sequence[Place]) -> None:
    y = MARGIN
    for place in column:
        place.y = y
        y += place.height + GAP


def across(grid: Sequence[Sequence[Place]]) -> None:
    """Put the columns side by side."""
    x = MARGIN
    for column in grid:
        width = max((p.width for p in column), default=0.0)
        for place in column:
            place.x = x
        x += width + GUTTER


def straighten(grid: Sequence[Sequence[Place]], links: Sequence[Link]) -> None:
    """Pull every place to where its lines would be level, as far as there is room."""
    for sweep in range(ROUNDS):
        for column in grid if sweep % 2 == 0 else list(reversed(grid)):
            wanted = []
            for place in column:
                pulls = [
                    k.left.y + k.left_at - k.right_at for k in links if k.right is place
                ] + [
                    k.right.y + k.right_at - k.left_at for k in links if k.left is place
                ]
                wanted.append(sum(pulls) / len(pulls) if pulls else place.y)
            _settle(column, wanted)
    top = min(p.y for column in grid for p in column)
    for column in grid:
        for place in column:
            place.y += MARGIN - top


def _settle(column: Sequence[Place], wanted: Sequence[float]) -> None:
    """The nearest heights to the wanted ones that keep order and distance.

    Places that would overlap are moved as one block to the mean of their wishes (the
    pool-adjacent-violators method of isotonic regression).
    """
    blocks: list[list[float]] = []  # sum of wishes, count, offset of the next place
    at = 0.0
    offsets = []
    for place, wish in zip(column, wanted, strict=True):
        offsets.append(at)
        blocks.append([wish - at, 1.0])
        at += place.height + GAP
        while (
            len(blocks) > 1
            and blocks[-2][0] / blocks[-2][1] > blocks[-1][0] / blocks[-1][1]
        ):
            last = blocks.pop()
            blocks[-1][0] += last[0]
            blocks[-1][1] += last[1]
    means = [b[0] / b[1] for b in blocks for _ in range(int(b[1]))]
    for place, mean, offset in zip(column, means, offsets, strict=True):
        place.y = mean + offset
