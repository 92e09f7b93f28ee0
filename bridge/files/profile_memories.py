"""The memories of a profile: what one message brings back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from bridge.core.control import Kind, Reach
from bridge.core.wire import Value
from bridge.files.notes import Notes
from bridge.files.profile_language import goes_its_way
from bridge.files.profile_making import Making
from bridge.files.profile_model import ControlType, MemoryType
from bridge.files.schema_memories import MemoryPart
from bridge.files.shapes import Entry, unknown_name, wrong
from bridge.files.spoken import language_of
from bridge.files.spoken_whole import read_messages
from bridge.files.tree import Node, Table, Text


def read_memories(
    making: Making, entries: Iterable[Entry[MemoryPart]], speaks: str
) -> tuple[MemoryType, ...]:
    """Read all memories, after the controls; notes what is wrong."""
    found = (_memory(making, e.name, e.part, speaks) for e in entries if e.part)
    return tuple(memory for memory in found if memory is not None)


def _memory(
    making: Making, name: Text, part: MemoryPart, speaks: str
) -> MemoryType | None:
    notes = making.notes
    messages = read_messages(part.message, notes)
    what, said = f"memory {name.value} is recalled", map(language_of, messages)
    if not goes_its_way(notes, what, said, speaks, part.message.place):
        return None
    for left in part.leaves:
        _control(making, left)
    sets = None if part.sets is None else dict(_sets(making, part.sets.node))
    if not messages:
        return None
    return MemoryType(
        name=name.value,
        messages=messages,
        at_once=part.at_once is not None and part.at_once.value,
        settle_ms=part.settle.value if part.settle else 0.0,
        sets=sets,
        leaves=frozenset(left.value for left in part.leaves),
        place=name.place,
    )


def _sets(making: Making, node: Node) -> Iterator[tuple[str, Value]]:
    if not isinstance(node, Table) or not len(node):
        wrong(making.notes, node, "controls with the values it sets: {a: on, b: off}")
        return
    for key, cell in node:
        control = _control(making, key)
        if control is None:
            continue
        if control.kind is Kind.LEVEL or control.reach is not Reach.REMOTE:
            making.notes.error(
                "wrong-value",
                f"{key.value} cannot stand under sets: it is {_what(control)}",
                key.place,
                cure="leave sets: out, and let the studio say which scene is stored",
            )
        elif (value := _value(making.notes, control, cell)) is not None:
            yield key.value, value


def _what(control: ControlType) -> str:
    return "a level" if control.kind is Kind.LEVEL else "set by hand or fixed"


def _value(notes: Notes, control: ControlType, cell: Node) -> Value | None:
    words: dict[str, Value] = {str(value): value for value in control.values}
    if control.kind is Kind.SWITCH:
        words = {"off": False, "on": True}
    text = cell.value if isinstance(cell, Text) else ""
    if text in words:
        return words[text]
    wrong(notes, cell, f"one of: {', '.join(words)}")
    return None


def _control(making: Making, name: Text) -> ControlType | None:
    """The control of this name; notes one that is not known."""
    control = making.controls.get(name.value)
    if control is None and name.value not in making.broken:
        what, known = "the control", making.controls
        unknown_name(
            making.notes, "unknown-control", what, name.value, name.place, known
        )
    return control
