"""Cuts the lines of a broken document into parts that can be read by themselves."""

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.files.refusals import bare, indent, without_comment


@dataclass(frozen=True, slots=True)
class Piece:
    """Lines from `first` up to `end`, counted from 0.

    `entry` says whether it is an entry of a table or list, so that it cannot be a
    bare text.
    """

    first: int
    end: int
    entry: bool


def pieces(lines: Sequence[str], first: int, end: int) -> tuple[Piece, ...]:
    """Cut at the lines that begin at least as far left as the entry before them.

    If that is a single entry, its first line and what is indented below it are the
    two pieces. Nothing is cut between brackets, nor in a text that `>` begins.
    """
    rows = [n for n in range(first, end) if without_comment(lines[n])]
    if not rows:
        return ()
    cuts = [rows[0]]
    for row in rows[1:]:
        left = indent(lines[row]) <= indent(lines[cuts[-1]])
        if left and lines[row].lstrip()[0] not in "}]":
            cuts.append(row)
    if len(cuts) > 1:
        ends = [*cuts[1:], end]
        return tuple(Piece(a, b, entry=True) for a, b in zip(cuts, ends, strict=True))
    head = without_comment(lines[rows[0]])
    if len(rows) == 1 or _opened(head) or head.endswith((">", "|", ">-", "|-")):
        return ()
    return (Piece(rows[0], rows[1], entry=True), Piece(rows[1], end, entry=False))


def _opened(line: str) -> int:
    """Return how many brackets a line leaves open."""
    text = bare(line)
    return sum(text.count(c) for c in "{[") - sum(text.count(c) for c in "}]")
