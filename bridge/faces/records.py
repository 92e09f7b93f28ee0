"""What the machine tells, as lines of a console or journal, or as JSON."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Final

from bridge.core.effects import Tell, Told
from bridge.faces.outcome import VERSION

_PRIORITIES: Final = {
    Told.ALARM: 3,
    Told.NOT_READ: 3,
    Told.HALTED: 4,
    Told.REFUSED: 4,
    Told.SILENT: 4,
    Told.PORT_LOST: 4,
    Told.MISSING: 4,
    Told.BY_HAND: 5,
    Told.LEFT_BEHIND: 5,
    Told.READ_ANEW: 5,
}
"""As syslog counts: 3 error, 4 warning, 5 notice; all else 6, information."""


def text_line(record: Tell, when: datetime | None) -> str:
    """One line; without `when` it is for a journal, which has the time itself.

    A journal takes a leading "<4>" as the line's priority: sd-daemon(3).
    """
    cure = f"; cure: {record.cure}" if record.cure else ""
    words = f"{record.words}{cure}"
    return plain_line(record.told.value, words, when, priority(record))


def plain_line(kind: str, words: str, when: datetime | None, weight: int = 6) -> str:
    """The same for what is no record."""
    head = f"<{weight}>" if when is None else f"{when:%H:%M:%S.%f}"[:12] + " "
    return f"{head}{kind:13} {words}"


def json_line(record: Tell, when: datetime) -> str:
    """One line of JSON, in the envelope of all commands."""
    told = {
        "treadle": VERSION,
        "command": "run",
        "when": when.isoformat(timespec="milliseconds"),
        "told": record.told.value,
        "words": record.words,
        "scene": record.scene,
        "controls": list(record.controls),
        "rules": list(record.rules),
        "people": list(record.people),
        "cure": record.cure,
    }
    return json.dumps(told)


def priority(record: Tell) -> int:
    """The record's weight as syslog counts it."""
    return _PRIORITIES.get(record.told, 6)


def fields(record: Tell) -> tuple[tuple[str, str], ...]:
    """The same for a journal that keeps fields; a field comes once for each value."""
    said = text_line(record, None).partition(">")[2]
    lists = {
        "TREADLE_SCENE": (record.scene,),
        "TREADLE_CONTROL": record.controls,
        "TREADLE_RULE": record.rules,
        "TREADLE_PERSON": record.people,
        "TREADLE_CURE": (record.cure,),
    }
    return (
        ("MESSAGE", said),
        ("PRIORITY", str(priority(record))),
        ("SYSLOG_IDENTIFIER", "treadle"),
        ("TREADLE_TOLD", record.told.value),
        *((name, value) for name, values in lists.items() for value in values if value),
    )
