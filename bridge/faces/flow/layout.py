"""Where everything stands: columns from left to right, no line through a box.

Strategy: the usual four steps of a layered drawing (columns by the longest way, order
by the middle of the neighbours, heights by pulling straight, lines last), each small,
since a desk has tens of boxes. A cable over several columns gets a place of its own in
each, so it runs between boxes. What runs back goes through a lane below everything.
Everything is sorted, so the same studio always gives the same drawing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from bridge.faces.flow.heights import (
    GAP,
    MARGIN,
    Link,
    Place,
    across,
    order,
    straighten,
)
from bridge.faces.flow.model import Box, Chart, Jack, Run, Side

ROW = 26.0
HEAD = 38.0
RAIL = 30.0
PAD = 14.0
LANE = 26.0

CHAR = 8.0
"""Width reckoned for one character at 13 px; the widest common fonts take 7.9."""

MOST_CHARS = 24
"""Longer names are cut off in the drawing; the whole name is in its title."""

PLAIN = {"in", "out", "air", "ears", "ear", "mouth", ""}
"""Names of jacks that say nothing where a box has only one."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A run with the points it passes, left to right (or down, back and up)."""

    run: Run
    points: tuple[tuple[float, float], ...]
    back: bool = False


@dataclass(frozen=True, slots=True)
class Layout:
    """All places and lines, and how much room they take (px)."""

    places: tuple[Place, ...]
    lines: tuple[Drawn, ...]
    width: float
    height: float


def clipped(text: str, most: int = MOST_CHARS) -> str:
    """A text that is not longer than there is room for."""
    return text if len(text) <= most else text[: most - 1] + "\u2026"


def text_width(text: str) -> float:
    """Room for a text; wide characters take two places."""
    wide = sum(1 for c in text if ord(c) >= 0x1100)
    return (len(text) + wide) * CHAR


def layout(chart: Chart) -> Layout:
    """Lay a chart out."""
    by_jack = {j.name: box for box in chart.boxes for j in (*box.inputs, *box.outputs)}
    runs = [r for r in chart.runs if r.source in by_jack and r.target in by_jack]
    columns = _columns(chart.boxes, runs, by_jack)
    places = {
        box.name: _place(box, columns[box.name], rank)
        for rank, box in enumerate(chart.boxes)
    }
    back = [r for r in runs if _is_back(r, by_jack, columns)]
    ahead = [r for r in runs if not _is_back(r, by_jack, columns)]
    chains = {id(r): _chain(r, by_jack, places, n) for n, r in enumerate(ahead)}
    passing = [p for chain in chains.values() for p in chain]
    grid = _grid([*places.values(), *passing])
    links = [
        link for run in ahead for link in _links(run, by_jack, places, chains[id(run)])
    ]
    order(grid, links)
    across(grid)
    straighten(grid, links)
    bottom = max(p.y + p.height for p in places.values()) + GAP
    lines = [_ahead_line(r, by_jack, places, chains[id(r)], grid) for r in ahead]
    lines += [
        _back_line(r, by_jack, places, grid, bottom + n * LANE, n)
        for n, r in enumerate(back)
    ]
    width = max(p.x + p.width for p in places.values()) + MARGIN
    height = bottom + LANE * len(back) + MARGIN
    return Layout(tuple(places.values()), tuple(lines), width, height)


# Sizes


def is_straight(box: Box) -> bool:
    """One in, one out, plain wire: a line through the box says it all."""
    return (
        len(box.inputs) == 1
        and len(box.outputs) == 1
        and not box.is_passage
        and not any(join.is_gated for join in box.joins)
    )


def label(box: Box, jack: Jack) -> str:
    """What is written beside a jack."""
    alone = len(box.inputs) <= 1 and len(box.outputs) <= 1 and not box.is_passage
    words = "" if alone and jack.label in PLAIN else jack.label
    level = f"{jack.gain_db:+.0f} dB" if jack.gain_db else ""
    return clipped(" ".join(filter(None, (words, level))))


def labels_width(box: Box, jacks: Sequence[Jack]) -> float:
    """Room for the labels at one side of a box, with a gap."""
    widths = [text_width(label(box, jack)) for jack in jacks]
    widest = max(widths, default=0.0)
    return widest + 10.0 if widest else 0.0


def _place(box: Box, column: int, rank: int) -> Place:
    outputs = () if box.is_passage else box.outputs
    inner = labels_width(box, box.inputs) + labels_width(box, outputs)
    rows = len(box.inputs) + len(outputs)
    if is_straight(box):
        rows = 1
    elif box.side is Side.THROUGH:
        inner += RAIL * len(outputs)
    width = max(text_width(clipped(box.title)) * 1.08, inner) + 2 * PAD
    jacks: dict[str, float] = {}
    for row, jack in enumerate((*box.inputs, *outputs)):
        at = 0 if is_straight(box) else row
        jacks[jack.name] = HEAD + ROW * at + ROW / 2 - 4
    return Place(box, column, rank, HEAD + ROW * rows, width, jacks=jacks)


# Columns


def _columns(
    boxes: Sequence[Box], runs: Sequence[Run], by_jack: Mapping[str, Box]
) -> dict[str, int]:
    """Sources first, listeners last, everything else as far left as it can be."""
    steps: dict[str, list[str]] = {}
    for run in runs:
        if not run.through_air:
            steps.setdefault(by_jack[run.source].name, []).append(
                by_jack[run.target].name
            )
    depth = {box.name: 0 for box in boxes}
    for _ in boxes:  # no longer way than there are boxes; rings stop here too
        changed = False
        for source, targets in steps.items():
            for target in targets:
                if depth[target] < depth[source] + 1 <= len(boxes):
                    depth[target] = depth[source] + 1
                    changed = True
        if not changed:
            break
    last = max(depth.values(), default=0)
    ends = {b.name for b in boxes if b.side is Side.SINK and b.name not in steps}
    return {n: last if n in ends else d for n, d in depth.items()}


def _is_back(run: Run, by_jack: Mapping[str, Box], columns: Mapping[str, int]) -> bool:
    return columns[by_jack[run.target].name] <= columns[by_jack[run.source].name]


def _chain(
    run: Run, by_jack: Mapping[str, Box], places: Mapping[str, Place], number: int
) -> list[Place]:
    first = places[by_jack[run.source].name].column
    last = places[by_jack[run.target].name].column
    return [
        Place(None, column, 10_000 + number, ROW / 2)
        for column in range(first + 1, last)
    ]


def _grid(places: Sequence[Place]) -> list[list[Place]]:
    last = max(p.column for p in places)
    return [
        sorted((p for p in places if p.column == c), key=lambda p: p.rank)
        for c in range(last + 1)
    ]


def _links(
    run: Run,
    by_jack: Mapping[str, Box],
    places: Mapping[str, Place],
    chain: Sequence[Place],
) -> list[Link]:
    first = places[by_jack[run.source].name]
    last = places[by_jack[run.target].name]
    stops = [first, *chain, last]
    middle = ROW / 4
    return [
        Link(
            a,
            b,
            first.jacks[run.source] if a is first else middle,
            last.jacks[run.target] if b is last else middle,
        )
        for a, b in pairwise(stops)
    ]


# Lines


def _ahead_line(
    run: Run,
    by_jack: Mapping[str, Box],
    places: Mapping[str, Place],
    chain: Sequence[Place],
    grid: Sequence[Sequence[Place]],
) -> Drawn:
    first = places[by_jack[run.source].name]
    last = places[by_jack[run.target].name]
    ends = [max(p.x + p.width for p in column) for column in grid]
    y = first.y + first.jacks[run.source]
    points = [(first.x + first.width, y), (ends[first.column], y)]
    for place in chain:
        level = place.y + ROW / 4
        points += [(place.x, level), (ends[place.column], level)]
    points.append((last.x, last.y + last.jacks[run.target]))
    return Drawn(run, tuple(points))


def _back_line(
    run: Run,
    by_jack: Mapping[str, Box],
    places: Mapping[str, Place],
    grid: Sequence[Sequence[Place]],
    lane: float,
    number: int,
) -> Drawn:
    """Out to the right, down to its lane, back, and up to the jack."""
    first = places[by_jack[run.source].name]
    last = places[by_jack[run.target].name]
    aside = 8.0 + 5.0 * (number % 4)
    right = max(p.x + p.width for p in grid[first.column]) + aside
    left = last.x - aside
    start = first.y + first.jacks[run.source]
    end = last.y + last.jacks[run.target]
    points = (
        (first.x + first.width, start),
        (right, start),
        (right, lane),
        (left, lane),
        (left, end),
        (last.x, end),
    )
    return Drawn(run, points, back=True)
