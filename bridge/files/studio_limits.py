"""Changed limits and rules that a studio lives without, each with its reason."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from bridge.core.demand import Limits, OwnLimit, Waiver
from bridge.core.finding import Finding
from bridge.core.patching import RULES as PATCH_RULES
from bridge.core.terms import LIMIT_NAMES
from bridge.files import quantity
from bridge.files.amounts import amount
from bridge.files.kinds import GAIN, LOSS, SOUND, Kind
from bridge.files.lines import cut, split
from bridge.files.notes import Notes
from bridge.files.shapes import Schema, unknown_name, wrong
from bridge.files.tree import Node, Table, Text

KINDS: dict[str, Kind | None] = {
    "stability_margin_db": LOSS,
    "own_voice_rating": None,
    "match_db": LOSS,
    "audible_line_db": GAIN,
    "audible_ear_db_spl": SOUND,
    "silent_line_db": GAIN,
    "silent_ear_db_spl": SOUND,
}
"""The kind of each limit; the one without a kind is a rating in 0..100."""

STRICT = LIMIT_NAMES["strict_open_microphone"][0]
"""A limit that is a switch: on makes the advice of that rule an error."""

LIMITS = {LIMIT_NAMES[field][0]: (field, kind) for field, kind in KINDS.items()}
"""By the name of each limit in the file: its field in core.demand.Limits, its kind."""

RULES = (
    "headroom",
    "heard-twice",
    "howl",
    "inseparable",
    "not-for-air",
    "open-microphone",
    "own-voice-late",
    "sudden-level",
)
"""The house rules that a studio may live without, by id."""

CABLE_RULES = tuple(rule.id for rule in PATCH_RULES)
"""The rules about cables: their advice may be lived without, their errors not."""

WAIVER_GRAMMAR = "RULE [for NAME [and NAME]] because REASON"


def limits_schema() -> Schema:
    """Return the schema of the table of limits."""
    said: Schema = {
        "type": "string",
        "pattern": "^.+ because .+$",
        "description": "a value and the reason: 9 dB because the dome rings",
    }
    return {
        "type": "object",
        "properties": dict.fromkeys((*LIMITS, STRICT), said),
        "additionalProperties": False,
    }


def read_limits(node: Node | None, notes: Notes) -> tuple[Limits, dict[str, OwnLimit]]:
    """Return the limits, and the reason for each that was changed (by its field)."""
    changed: dict[str, Any] = {}
    reasons: dict[str, OwnLimit] = {}
    if node is None:
        return Limits(), reasons
    if not isinstance(node, Table):
        wrong(notes, node, "a table of limits")
        return Limits(), reasons
    for key, text in node:
        if key.value not in (*LIMITS, STRICT):
            unknown_name(
                notes,
                "unknown-key",
                "limits: the limit",
                key.value,
                key.place,
                (*LIMITS, STRICT),
            )
            continue
        if not isinstance(text, Text):
            wrong(notes, text, "a value and its reason: 9 dB because the dome rings")
            continue
        said = because(text, notes)
        if said is None:
            continue
        field, value = _limit(key.value, said[0], notes)
        if value is not None:
            changed[field] = value
            reasons[field] = OwnLimit(said[1], key.place)
    return Limits(**changed), reasons


def read_waivers(
    lines: tuple[Text, ...], known: Collection[str], notes: Notes
) -> tuple[Waiver, ...]:
    """Return the rules that the studio lives without.

    known: every name that a waiver may be about; empty if not all are known.
    """
    waivers = []
    for line in lines:
        said = because(line, notes)
        if said is None:
            continue
        head, *rest = split(said[0], "for")
        if head.value not in (*RULES, *CABLE_RULES):
            unknown_name(
                notes,
                "unknown-rule",
                "the rule",
                head.value,
                head.place,
                (*RULES, *CABLE_RULES),
            )
            continue
        about = [name for part in rest for name in split(part, "and")]
        for name in about:
            if known and name.value not in known:
                rule, place = "unknown-name", name.place
                unknown_name(notes, rule, "the name", name.value, place, known)
        names = tuple(name.value for name in about)
        waivers.append(Waiver(head.value, said[1], names, line.place))
    return tuple(waivers)


def because(text: Text, notes: Notes) -> tuple[Text, str] | None:
    """Cut a text at "because"; notes a text that has no reason."""
    head, _, reason = text.value.partition(" because ")
    if reason.strip():
        return cut(text, 0, len(head)), reason.strip()
    notes.error(
        "no-reason",
        f'"{text.value}" must have a reason',
        text.place,
        note="whoever reads this in a year must know why",
        cure=f"write {text.value} because ...",
    )
    return None


def _limit(name: str, text: Text, notes: Notes) -> tuple[str, float | bool | None]:
    value: float | bool | Finding | None
    if name == STRICT:
        field, value = "strict_open_microphone", quantity.switch(text)
    else:
        field, kind = LIMITS[name]
        if kind is not None:
            return field, amount(text, kind, notes)
        value = quantity.whole(text, name, 0, 100)
    if isinstance(value, Finding):
        notes.add((value,))
        return field, None
    return field, value
