"""Tables for a terminal: columns in line, and side by side only while they fit."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.faces.report import cells

WIDTH = 80
"""Columns of a terminal, unless somebody says otherwise."""

GAP = "  "


def draw(
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    left: int = 1,
    indent: str = "  ",
    width: int = WIDTH,
) -> list[str]:
    """Lines of a table; the first `left` columns stand left, the others right.

    A table that is too wide is drawn in parts one below the other, and each part has
    the left columns again.
    """
    widths = [
        max(cells(row[column]) for row in (header, *rows))
        for column in range(len(header))
    ]
    lines: list[str] = []
    for columns in _parts(widths, left, width - len(indent)):
        if lines:
            lines.append("")
        for row in (header, *rows):
            shown = GAP.join(
                _padded(row[column], widths[column], to_left=column < left)
                for column in columns
            )
            lines.append((indent + shown).rstrip())
    return lines


def counted(number: int, noun: str) -> str:
    """A number and its noun: "1 leg", "2 legs"."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _parts(widths: Sequence[int], left: int, room: int) -> list[list[int]]:
    """Which columns stand side by side; each part begins with the left columns."""
    begin = list(range(left))
    at_least = sum(widths[:left]) + len(GAP) * (left - 1)
    parts = [[*begin]]
    used = at_least
    for column in range(left, len(widths)):
        needed = len(GAP) + widths[column]
        if used + needed > room and len(parts[-1]) > left:
            parts.append([*begin])
            used = at_least
        parts[-1].append(column)
        used += needed
    return parts


def _padded(text: str, width: int, *, to_left: bool) -> str:
    blanks = " " * (width - cells(text))
    return text + blanks if to_left else blanks + text
