"""Findings as a person reads them on a terminal, and as a script reads them.

Strategy: everything that came from outside (names, lines of a file) goes through
`shown` before it is printed, so that no text can steer the terminal; columns are
counted in terminal cells, so that carets stand under wide characters too.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from bridge.core.finding import Finding, Place, Severity, in_file_order

WIDTH = 88
"""Columns of the terminal that reports are made for."""

JSON_VERSION = 1
"""Raised when a key of `to_json` changes its meaning or goes away."""

_TAB = "    "
_BOLD, _RED, _YELLOW, _BLUE, _PLAIN = (f"\x1b[{n}m" for n in (1, 31, 33, 34, 0))
_COLOURS = {Severity.ERROR: _RED, Severity.ADVICE: _YELLOW}


def render(
    findings: Iterable[Finding],
    sources: Mapping[str, str],
    *,
    colour: bool = False,
    width: int = WIDTH,
) -> str:
    """Return a report of all findings in the order of the files, "" if none.

    sources: the text of each file by the name that places show; a file that is not
    among them is reported without its line.
    """
    lines = {name: _lines(text) for name, text in sources.items()}
    blocks = []
    for finding in in_file_order(findings):
        place = finding.place
        source = _source(place, lines.get(place.file, [])) if place else None
        blocks.append("\n".join(_block(finding, source, _Pen(colour=colour), width)))
    return "\n\n".join(blocks) + ("\n" if blocks else "")


def summary(findings: Iterable[Finding]) -> str:
    """Return the count in words: `2 errors, 1 advice`."""
    severities = [finding.severity for finding in in_file_order(findings)]
    errors = severities.count(Severity.ERROR)
    advice = severities.count(Severity.ADVICE)
    if not severities:
        return "nothing found"
    parts = [f"{errors} error{'s' * (errors != 1)}"] if errors else []
    parts += [f"{advice} piece{'s' * (advice != 1)} of advice"] if advice else []
    return ", ".join(parts)


def to_json(finding: Finding) -> dict[str, Any]:
    """Return one finding as JSON values; every key is always there.

    version: `JSON_VERSION`. place: null, or file, line, column, end_column as in
    `Place`. The other keys are those of `Finding`.
    """
    place = finding.place
    return {
        "version": JSON_VERSION,
        "rule": finding.rule,
        "severity": finding.severity.value,
        "message": finding.message,
        "place": place
        and {
            "file": place.file,
            "line": place.line,
            "column": place.column,
            "end_column": place.end_column,
        },
        "where": finding.where,
        "people": list(finding.people),
        "measured": finding.measured,
        "limit": finding.limit,
        "path": list(finding.path),
        "note": finding.note,
        "cure": finding.cure,
    }


def shown(text: str) -> str:
    """Return text with nothing in it that could steer a terminal."""
    return "".join(_TAB if c == "\t" else "\ufffd" if _steers(c) else c for c in text)


def cells(text: str) -> int:
    """Return how many columns of a terminal a text takes."""
    return sum(map(_cell, text))


class _Pen:
    """Puts colour around text, or does not."""

    def __init__(self, *, colour: bool) -> None:
        self._colour = colour

    def __call__(self, text: str, *codes: str) -> str:
        return f"{''.join(codes)}{text}{_PLAIN}" if self._colour and text else text


def _block(
    finding: Finding, source: tuple[int, str, int, int] | None, pen: _Pen, width: int
) -> Iterator[str]:
    kind = f"{finding.severity.value}[{finding.rule}]: "
    spot = shown(f"{finding.place}: ") if finding.place else ""
    first, *rest = _wrapped(spot + kind + shown(finding.message), width, "    ")
    tint = _COLOURS[finding.severity]
    # The head may be wrapped within the place, if a file's name is very long.
    if first.startswith(spot + kind):
        first = (
            pen(spot, _BOLD)
            + pen(kind, _BOLD, tint)
            + pen(first[len(spot + kind) :], _BOLD)
        )
    yield first
    yield from (pen(line, _BOLD) for line in rest)
    if source is not None:
        yield from _excerpt(*source, pen, tint, width)
    is_told = finding.message.startswith(f"{finding.where}: ")
    for label, text in (
        ("where", "" if is_told else finding.where),
        ("who", ", ".join(finding.people)),
        ("measured", finding.measured),
        ("limit", finding.limit),
    ):
        yield from _labelled(label, text, pen, width)
    if finding.path:
        yield pen("  path:", _BLUE)
        for step in finding.path:
            yield from _wrapped(" " * 4 + shown(step), width, " " * 8)
    yield from _labelled("note", finding.note, pen, width)
    yield from _labelled("cure", finding.cure, pen, width)


def _labelled(label: str, text: str, pen: _Pen, width: int) -> Iterator[str]:
    if not text:
        return
    head = f"  {label}: "
    indent = " " * len(head)
    for number, line in enumerate(text.split("\n")):
        begin = indent if number else head
        first, *rest = _wrapped(begin + shown(line), width, indent)
        yield pen(begin, _BLUE) + first[len(begin) :]
        yield from rest


def _wrapped(text: str, width: int, indent: str) -> list[str]:
    """Break at single blanks; a word that is wider than the line stays whole."""
    if cells(text) <= width:
        return [text]
    lines, current = [], ""
    for word in re.findall(r"^ *[^ ]+| +[^ ]+", text):
        if current and cells(current + word) > width:
            lines.append(current)
            current = indent + word.lstrip()
        else:
            current += word
    return [*lines, current]


def _source(place: Place, lines: list[str]) -> tuple[int, str, int, int] | None:
    """Return line number, line as shown, first cell and number of cells to mark."""
    if place.line > len(lines):
        return None
    line = lines[place.line - 1]
    start, end = place.column - 1, place.end_column - 1
    before, marked = shown(line[:start]), shown(line[start:end])
    return place.line, shown(line).rstrip(), cells(before), max(1, cells(marked))


def _excerpt(
    number: int, line: str, start: int, count: int, pen: _Pen, tint: str, width: int
) -> Iterator[str]:
    gutter = f"{number:>4} | "
    room = width - len(gutter)
    if cells(line) > room:
        line, start = _window(line, start, min(count, room // 2), room)
    count = max(1, min(count, room - start))
    yield pen(gutter, _BLUE) + line
    bar = " " * (len(gutter) - 2) + "| "
    yield pen(bar, _BLUE) + " " * start + pen("^" * count, tint)


def _window(line: str, start: int, count: int, room: int) -> tuple[str, int]:
    """Return the part of a long line around the marked cells, and their new start."""
    gap = "..."
    left = max(0, start + count - (room - 2 * len(gap)))
    if left:
        left = max(left, start - room // 3)
    taken, at, skipped = "", 0, 0
    for char in line:
        if at < left:
            skipped = at + _cell(char)
        elif at + _cell(char) - skipped <= room - 2 * len(gap):
            taken += char
        else:
            taken += gap
            break
        at += _cell(char)
    return (gap + taken, start - skipped + len(gap)) if left else (taken, start)


def _cell(char: str) -> int:
    if unicodedata.category(char) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1


def _steers(char: str) -> bool:
    """Whether a character moves the cursor, rings, or turns the writing direction."""
    return unicodedata.category(char) in ("Cc", "Cs", "Zl", "Zp") or (
        "\u202a" <= char <= "\u202e" or "\u2066" <= char <= "\u2069"
    )


def _lines(text: str) -> list[str]:
    """Cut into lines exactly as the reader of files counts them."""
    return re.split("\r\n|\r|\n", text)
