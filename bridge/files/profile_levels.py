"""The levels of a profile: a scale, and the number each level has in a message."""

from __future__ import annotations

import math

from bridge.core.control import Kind, Reach
from bridge.core.finding import Place
from bridge.core.wire import Value
from bridge.files.amounts import level
from bridge.files.notes import Notes
from bridge.files.profile_asking import read_asking
from bridge.files.profile_cells import NO_FILLING, Filling, number_in
from bridge.files.profile_model import ControlType
from bridge.files.profile_steps import check_steps
from bridge.files.schema_controls import LevelPart
from bridge.files.shapes import wrong
from bridge.files.spoken import About, read_about
from bridge.files.tree import Table


def read_level(
    name: str, part: LevelPart, filling: Filling, notes: Notes, place: Place
) -> ControlType | None:
    """Read one level, or return None after noting what is wrong."""
    table = _table(part, notes)
    if table is None:
        return None
    about = read_about(filling.fill(part.message), notes) if part.message else None
    if part.message and about is None:
        return None
    if about is None and part.by_hand is None:
        notes.error(
            "no-message",
            f'nothing can set "{name}": it has no message',
            table.place,
            cure="add message:, or say what a person does with by hand:",
        )
        return None
    numbers = _scale(table, about, notes)
    if len(numbers) != len(table) or not _rises(numbers, table.place, notes):
        return None
    if part.steps is not None and not check_steps(part, numbers, notes):
        return None
    ask, hears = read_asking(part, filling, notes)
    power_up = level(part.at_power_up, notes) if part.at_power_up else None
    return ControlType(
        name=name,
        kind=Kind.LEVEL,
        values=(numbers[0][0], numbers[-1][0]),
        reach=Reach.HAND if part.by_hand else Reach.REMOTE,
        about=about,
        numbers=tuple(numbers),
        messages={},
        at_power_up=power_up,
        released=None,
        settle_ms=part.settle.value if part.settle else 0.0,
        gap=False,
        overlap=False,
        hand_words={math.inf: filling.fill(part.by_hand).value} if part.by_hand else {},
        gains_db={},
        life=None,
        place=place,
        step_db=part.steps.at_most.value if part.steps else 0.0,
        step_ms=part.steps.every.value if part.steps else 0.0,
        ask=ask,
        hears=hears,
    )


def _scale(
    table: Table, about: About | None, notes: Notes
) -> list[tuple[Value, float]]:
    """Read (level, number) pairs, the quietest first."""
    pairs: list[tuple[Value, float]] = []
    for key, cell in table:
        at = level(key, notes)
        if at is None:
            continue
        number = number_in(cell, about, NO_FILLING, notes) if about else 0.0
        if number is not None:
            pairs.append((at, number))
    return sorted(pairs, key=lambda pair: pair[0])


def _rises(pairs: list[tuple[Value, float]], place: Place, notes: Notes) -> bool:
    numbers = [number for _, number in pairs]
    if numbers == sorted(numbers):
        return True
    notes.error(
        "scale-falls",
        "the numbers of a scale must rise with its levels",
        place,
        cure="give the loudest level the greatest number",
    )
    return False


def _table(part: LevelPart, notes: Notes) -> Table | None:
    table = part.scale.node
    if not isinstance(table, Table):
        wrong(notes, table, "a table of levels, such as {off: 0, 0 dB: 127}")
        return None
    if len(table) >= 2:
        return table
    notes.error(
        "wrong-value",
        f"a scale must have two levels or more, got {len(table)}",
        table.place,
        cure="write at least the quietest level and the loudest",
    )
    return None
