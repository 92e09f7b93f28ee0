"""The lamps of a profile: what makes each look dark, lit, and otherwise."""

from __future__ import annotations

from bridge.core.lamp import Sign
from bridge.core.wire import Message
from bridge.files.notes import Notes
from bridge.files.profile_cells import NO_FILLING, messages_in, number_in
from bridge.files.profile_language import goes_its_way
from bridge.files.profile_model import LampType
from bridge.files.schema_lamps import LampPart
from bridge.files.schema_profile import ProfilePart
from bridge.files.shapes import unknown_name, wrong
from bridge.files.spoken import About, language_of, read_about
from bridge.files.tree import Node, Table, Text

WORDS = {sign.value: sign for sign in Sign}


def read_lamps(part: ProfilePart, speaks: str, notes: Notes) -> dict[str, LampType]:
    """Read every lamp of a profile; notes what is wrong."""
    lamps = {}
    for entry in part.lamps:
        lamp = _lamp(entry.name, entry.part, notes) if entry.part else None
        if lamp is not None:
            lamps[lamp.name] = lamp
    for lamp in lamps.values():
        said = {language_of(m) for each in lamp.messages.values() for m in each}
        what = f'"{lamp.name}" is lit'
        if not goes_its_way(notes, what, said, speaks, lamp.place):
            break
    return lamps


def _lamp(name: Text, part: LampPart, notes: Notes) -> LampType | None:
    """Read one lamp, or return None after noting what is wrong."""
    table = part.values.node
    if not isinstance(table, Table):
        wrong(notes, table, "a table, such as {dark: 0, lit: 127}")
        return None
    about = read_about(part.message, notes) if part.message else None
    if part.message and about is None:
        return None
    messages: dict[Sign, tuple[Message, ...]] = {}
    for key, cell in table:
        if key.value not in WORDS:
            known = list(WORDS)
            what = f"what {name.value} looks like"
            unknown_name(notes, "unknown-value", what, key.value, key.place, known)
        elif said := _messages(about, cell, notes):
            messages[WORDS[key.value]] = said
    for sign in (Sign.DARK, Sign.LIT):
        if not any(key.value == sign.value for key, _ in table):
            notes.error(
                "missing-key",
                f'{name.value}: "{sign.value}" is missing',
                table.place,
                cure=f"say what makes it {sign.value}: {{dark: 0, lit: 127}}",
            )
    return LampType(name.value, messages, name.place)


def _messages(about: About | None, cell: Node, notes: Notes) -> tuple[Message, ...]:
    if about is None:
        return messages_in(cell, NO_FILLING, notes)
    number = number_in(cell, about, NO_FILLING, notes)
    return () if number is None else about.messages(number)
