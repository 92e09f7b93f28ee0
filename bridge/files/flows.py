"""Lines with an arrow: the flows of a profile and the cables of a patch."""

from __future__ import annotations

import re
from dataclasses import dataclass

from bridge.core.finding import Place
from bridge.files.amounts import amount
from bridge.files.kinds import GAIN, TIME, Kind
from bridge.files.lines import cut, split
from bridge.files.notes import Notes
from bridge.files.tree import Text

FLOW_GRAMMAR = (
    "FROM -> TO [when CONTROL is VALUE [or VALUE] [and CONTROL is VALUE]] "
    "[through CONTROL [and CONTROL]] [at GAIN dB] [after TIME ms]"
)
CABLE_GRAMMAR = (
    "GEAR.OUTPUT [L|R] -> GEAR.INPUT [L|R] [over LENGTH], as in mic.out -> desk.in 1"
)

_CLAUSE = re.compile(r"\s+(when|through|at|after)\s+")


@dataclass(frozen=True, slots=True)
class When:
    """A flow is open while a control has one of these values."""

    control: Text
    values: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class FlowLine:
    """One line of `flows:` as it was written."""

    source: Text
    target: Text
    whens: tuple[When, ...]
    through: tuple[Text, ...]
    gain_db: float
    delay_ms: float
    place: Place


def read_arrow(text: Text, notes: Notes, grammar: str) -> tuple[Text, Text] | None:
    """Cut a line at its arrow; notes a line that has none or two."""
    ends = split(text, "->")
    if len(ends) == 2 and ends[0].value and ends[1].value:
        return ends[0], ends[1]
    pieces = [piece.strip() for piece in text.value.split("->")]
    spaced = " -> ".join(pieces) if len(pieces) == 2 and all(pieces) else ""
    notes.error(
        "line-not-understood",
        f'"{text.value}" must have one arrow, with a blank before and after it',
        text.place,
        note=f"it is written: {grammar}",
        cure=f"write {spaced}" if spaced else "",
    )
    return None


def read_flow(text: Text, notes: Notes) -> FlowLine | None:
    """Read one line of `flows:`; notes what is wrong and returns None."""
    ends = read_arrow(text, notes, FLOW_GRAMMAR)
    if ends is None:
        return None
    source, rest = ends
    hits = list(_CLAUSE.finditer(rest.value))
    target = cut(rest, 0, hits[0].start() if hits else len(rest.value))
    clauses: dict[str, Text] = {}
    ends_at = [*(hit.start() for hit in hits[1:]), len(rest.value)]
    for hit, end in zip(hits, ends_at, strict=False):
        if hit[1] in clauses:
            _not_understood(text, notes, f'"{hit[1]}" twice')
            return None
        clauses[hit[1]] = cut(rest, hit.end(), end)
    whens = [_when(each, notes) for each in _each(clauses.get("when"), "and")]
    gain = _amount(clauses.get("at"), GAIN, notes)
    delay = _amount(clauses.get("after"), TIME, notes)
    if gain is None or delay is None or None in whens:
        return None
    return FlowLine(
        source,
        target,
        tuple(when for when in whens if when is not None),
        _each(clauses.get("through"), "and"),
        gain,
        delay,
        text.place,
    )


def _each(text: Text | None, word: str) -> tuple[Text, ...]:
    return split(text, word) if text is not None else ()


def _when(text: Text, notes: Notes) -> When | None:
    sides = split(text, "is")
    if len(sides) == 2:
        return When(sides[0], split(sides[1], "or"))
    _not_understood(text, notes, '"when" without "CONTROL is VALUE"')
    return None


def _amount(text: Text | None, kind: Kind, notes: Notes) -> float | None:
    return 0.0 if text is None else amount(text, kind, notes)


def _not_understood(text: Text, notes: Notes, what: str) -> None:
    notes.error(
        "line-not-understood",
        f'"{text.value}" is not how a flow is written ({what})',
        text.place,
        note=f"it is written: {FLOW_GRAMMAR}",
    )
