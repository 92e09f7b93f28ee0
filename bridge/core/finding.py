"""A finding: one thing that is wrong or doubtful, with place, evidence and cure.

Findings are values. Nothing here draws text: `faces.report` does, and only there.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

# The id names the property that is protected: "own-voice-late", "unknown-name".
_KEBAB = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*")


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a text: a line, and the columns from `column` up to `end_column`.

    Lines and columns count from 1, columns in characters (not bytes, not cells of a
    terminal). `end_column` is the first column after the span. A span that goes on
    over several lines stops at the end of its first one.
    """

    file: str
    line: int
    column: int
    end_column: int

    def __post_init__(self) -> None:
        if self.line < 1 or self.column < 1:
            msg = f"line and column must be 1 or more, got {self.line}:{self.column}"
            raise ValueError(msg)
        if self.end_column < self.column:
            msg = f"end_column must be {self.column} or more, got {self.end_column}"
            raise ValueError(msg)

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


class Severity(Enum):
    """How much a finding weighs: an error stops the studio, an advice does not."""

    ERROR = "error"
    ADVICE = "advice"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong or doubtful.

    rule: kebab-case id of the rule or of the kind of mistake.
    message: one sentence: what, what must be, what came.
    place: where in which file; None when no text is to blame.
    where: the scene or the crossing, in words: "scene phones", "phones to speakers".
    people: who is concerned, by their names in the file.
    measured, limit: what was found and what it is held against, with their units.
    path: node by node, each a line that is ready to be shown, such as
        "desk.in 5/6 -> desk.monitor   -3.0 dB, 1.2 ms".
    note: what one has to know to understand the message.
    cure: what to do about it.
    """

    rule: str
    message: str
    place: Place | None = None
    severity: Severity = Severity.ERROR
    where: str = ""
    people: tuple[str, ...] = ()
    measured: str = ""
    limit: str = ""
    path: tuple[str, ...] = ()
    note: str = ""
    cure: str = ""

    def __post_init__(self) -> None:
        if not _KEBAB.fullmatch(self.rule):
            msg = f"rule must be kebab-case, like own-voice-late, got {self.rule!r}"
            raise ValueError(msg)
        if not self.message:
            msg = f"finding {self.rule} must have a message"
            raise ValueError(msg)


def by_place(finding: Finding) -> tuple[str, int, int, bool, str, str]:
    """Sort key: the order of the file, errors before advice; those of no place last."""
    place = finding.place
    last = (finding.severity is not Severity.ERROR, finding.rule, finding.where)
    if place is None:
        # U+10FFFF sorts after every name that a file can have.
        return ("\U0010ffff", 0, 0, *last)
    return (place.file, place.line, place.column, *last)


def in_file_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings sorted by place, each one only once."""
    return tuple(sorted(dict.fromkeys(findings), key=by_place))
