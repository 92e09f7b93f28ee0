"""How long scenes took from the press, drawn into an SVG of its own.

Two kinds of mark that differ in shape, height and name as well as in colour: rings for
the first message, filled diamonds for the scene in force. Time runs to the right, and
milliseconds rise by equal factors, since a fault is not twice but a hundred times
slower.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from html import escape
from typing import Final

from bridge.core.entries import Timed

WIDTH: Final = 860
HEIGHT: Final = 420
LEFT, RIGHT, TOP, BOTTOM = 72, 180, 56, 64

MOST_COLUMNS: Final = 200
"""Marks of a kind side by side; where there are more, the worst of each column stands
for it, because the worst is what one looks for."""

_STYLE: Final = """
  svg { background: #fff; color: #1b1b1b; font: 13px sans-serif }
  text { fill: currentColor }
  .grid { stroke: currentColor; stroke-opacity: .18 }
  .wire { fill: none; stroke: #0a4f9e; stroke-width: 1.6 }
  .end { fill: #a8480b; stroke: none }
  @media (prefers-color-scheme: dark) {
    svg { background: #16181c; color: #e8e8e8 }
    .wire { stroke: #8cc3ff }
    .end { fill: #ffb27a }
  }
"""

_Point = tuple[float, float]


def plot(times: Sequence[Timed]) -> str:
    """The drawing, for at least one time; times are Unix seconds, shown as local."""
    wire = [(t.when, t.wire_ms) for t in times if t.wire_ms is not None]
    ends = [(t.when, t.end_ms) for t in times]
    first, last = min(t.when for t in times), max(t.when for t in times)
    low, high = _decades([ms for _, ms in (*wire, *ends)])
    span = (last - first) or 1.0

    def at(point: tuple[float, float]) -> _Point:
        when, ms = point
        x = LEFT + (when - first) / span * (WIDTH - LEFT - RIGHT)
        share = (math.log10(max(ms, 10**low)) - low) / (high - low)
        return x, HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)

    title = f"From the press, {len(times)} crossing{'' if len(times) == 1 else 's'}"
    size = f'viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}"'
    named = 'role="img" aria-labelledby="title about"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {named}>',
        f'<title id="title">{escape(title)}</title>',
        f'<desc id="about">{escape(_about(wire, ends))}</desc>',
        f"<style>{_STYLE}</style>",
        _text(LEFT, 28, title, "font-size='17'"),
        *_grid(low, high),
        *_days(first, last),
        *(_ring(at(point)) for point in _thinned(wire, first, span)),
        *(_diamond(at(point)) for point in _thinned(ends, first, span)),
        *_key(wire, ends),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def ms_words(ms: float) -> str:
    """Milliseconds as far as their digits mean something; seconds from one on."""
    if ms >= 1000:
        return f"{ms / 1000:.1f} s"
    return f"{ms:.0f} ms" if ms >= 100 else f"{ms:.1f} ms"


def _decades(values: Sequence[float]) -> tuple[int, int]:
    """Powers of ten below and above every value, at least one apart."""
    known = [ms for ms in values if ms > 0] or [1.0]
    low = max(-2, math.floor(math.log10(min(known))))
    return low, max(low + 1, math.ceil(math.log10(max(known))))


def _thinned(
    points: Sequence[tuple[float, float]], first: float, span: float
) -> list[tuple[float, float]]:
    """The worst of each column, if there are more points than columns."""
    if len(points) <= MOST_COLUMNS:
        return list(points)
    worst: dict[int, tuple[float, float]] = {}
    for when, ms in points:
        column = int((when - first) / span * (MOST_COLUMNS - 1))
        if column not in worst or ms > worst[column][1]:
            worst[column] = (when, ms)
    return list(worst.values())


def _grid(low: int, high: int) -> Iterator[str]:
    """A line and its words for each power of ten."""
    for power in range(low, high + 1):
        share = (power - low) / (high - low)
        y = HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)
        yield (
            f'<line class="grid" x1="{LEFT}" x2="{WIDTH - RIGHT}" '
            f'y1="{y:.1f}" y2="{y:.1f}"/>'
        )
        ms = 10.0**power
        words = f"{ms / 1000:g} s" if ms >= 1000 else f"{ms:g} ms"
        yield _text(LEFT - 10, y + 4, words, "text-anchor='end'")


def _days(first: float, last: float) -> Iterator[str]:
    """When it begins and ends, in local time."""
    ends = ((LEFT, first, "start"), (WIDTH - RIGHT, last, "end"))
    for x, when, anchor in ends if last > first else ends[:1]:
        local = datetime.fromtimestamp(when, UTC).astimezone()
        words = f"{local:%Y-%m-%d %H:%M:%S}"
        yield _text(x, HEIGHT - BOTTOM + 24, words, f"text-anchor='{anchor}'")


def _key(
    wire: Sequence[tuple[float, float]], ends: Sequence[tuple[float, float]]
) -> Iterator[str]:
    """What the marks are, at the right, with the middle and the worst."""
    x, y = WIDTH - RIGHT + 24, TOP + 16
    for mark, name, points in (
        (_diamond, "scene in force", ends),
        (_ring, "first message", wire),
    ):
        if points:
            values = sorted(ms for _, ms in points)
            middle = values[(len(values) - 1) // 2]
            yield mark((x, y - 4))
            yield _text(x + 14, y, name)
            yield _text(x + 14, y + 18, f"half within {ms_words(middle)}")
            yield _text(x + 14, y + 36, f"worst {ms_words(values[-1])}")
            y += 72
    if len(ends) > MOST_COLUMNS:
        yield _text(LEFT, 46, "where marks would lie on each other, the worst of them")


def _about(
    wire: Sequence[tuple[float, float]], ends: Sequence[tuple[float, float]]
) -> str:
    """The drawing in a sentence, for whoever does not see it."""
    words = [f"scene in force within {ms_words(max(ms for _, ms in ends))} at worst"]
    if wire:
        words.append(f"first message within {ms_words(max(ms for _, ms in wire))}")
    return ", ".join(words)


def _ring(at: _Point) -> str:
    return f'<circle class="wire" cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="3.5"/>'


def _diamond(at: _Point) -> str:
    x, y = at
    return f'<path class="end" d="M{x:.1f} {y - 5:.1f}l5 5l-5 5l-5 -5z"/>'


def _text(x: float, y: float, words: str, more: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" {more}>{escape(words)}</text>'
