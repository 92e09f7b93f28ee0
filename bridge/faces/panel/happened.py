"""The view *what happened*: this run from memory, what was before it from the journal.

Pure but for `before`, which reads a file and so is called by `shelf`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bridge.core.effects import Told
from bridge.core.entries import Entry, Kept, NotAJournal, Question
from bridge.faces.panel.now import told
from bridge.faces.panel.snapshot import Record
from bridge.faces.report import shown

Json = dict[str, Any]

MOST_RECORDS = 400
"""Records kept for the page, some 200 kB: a long day of pressing. The journal of the
system keeps the rest."""

PAST = Question(told=tuple(told.value for told in Told), last=2 * MOST_RECORDS)
"""What is asked of the journal: half of it may be what the page is shown anyway."""

Past = Callable[[], Kept]
"""Reads the journal. May wait for a disk, so never in the loop. Raises NotAJournal."""

_FAULTS = frozenset(
    {
        Told.REFUSED,
        Told.HALTED,
        Told.ALARM,
        Told.SILENT,
        Told.PORT_LOST,
        Told.MOVED_BY_HAND,
        Told.LEFT_BEHIND,
        Told.NOT_READ,
        Told.MISSING,
    }
)


@dataclass(frozen=True, slots=True)
class Before:
    """What the journal's file holds of before, oldest first; or why it is not read."""

    entries: tuple[Entry, ...] = ()
    trouble: str = ""


def happened(
    records: Sequence[Record],
    dropped: Mapping[str, int],
    now: float,
    before: Before,
) -> Json:
    """The journal newest first, faults counted, and how long crossings took."""
    faults: dict[str, int] = {}
    for record in records:
        if record.told in _FAULTS:
            faults[record.told.value] = faults.get(record.told.value, 0) + 1
    return {
        "records": [
            *(told(record, now) for record in reversed(records)),
            *(_kept(entry) for entry in reversed(before.entries)),
        ],
        "trouble": shown(before.trouble),
        "faults": faults,
        "dropped": {shown(cause): count for cause, count in dropped.items()},
        "took": [*_took_before(before.entries), *took(records)],
    }


def _kept(entry: Entry) -> Json:
    return {
        "told": shown(entry.told),
        "words": shown(entry.words),
        "cure": shown(entry.cure),
        "scene": shown(entry.scene),
        "when": round(entry.when, 3),
    }


def _took_before(entries: Iterable[Entry]) -> Iterable[Json]:
    for entry in entries:
        if entry.told == Told.ARRIVED.value and entry.end_ms is not None:
            yield {
                "scene": shown(entry.scene),
                "ms": round(entry.end_ms, 2),
                "when": round(entry.when, 3),
            }


def took(records: Iterable[Record]) -> Iterable[Json]:
    """For each crossing that arrived: milliseconds from its begin to its end."""
    begun: dict[str, float] = {}
    for record in records:
        if record.told is Told.CROSSING:
            begun[record.scene] = record.at
        elif record.told is Told.ARRIVED and record.scene in begun:
            took_s = record.at - begun.pop(record.scene)
            yield {
                "scene": shown(record.scene),
                "ms": round(took_s * 1000, 2),
                "when": round(record.when, 3),
            }
        elif record.told in (Told.HALTED, Told.SUPERSEDED):
            begun.clear()


def before(past: Past, first: float) -> Before:
    """What the journal holds of before `first`, Unix seconds. Waits for the disk."""
    try:
        entries = past().entries
    except (NotAJournal, OSError) as error:
        return Before(trouble=f"the journal's file is not read: {error}")
    # The same moment is kept by two callers, some microseconds apart.
    older = [entry for entry in entries if entry.when < first - 0.005]
    return Before(tuple(older[-MOST_RECORDS:]))
