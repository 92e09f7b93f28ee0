"""The controls of a profile: values, messages, scales, and what a hand does."""

from __future__ import annotations

from bridge.core.control import Kind, Reach
from bridge.core.finding import Place
from bridge.core.wire import Message, Value
from bridge.files.amounts import level
from bridge.files.notes import Notes
from bridge.files.profile_asking import read_asking
from bridge.files.profile_cells import Filling, messages_in, number_in
from bridge.files.profile_model import ControlType
from bridge.files.profile_relay import relay_times
from bridge.files.profile_toggle import read_toggle
from bridge.files.schema_controls import SettingPart
from bridge.files.shapes import Later, unknown_name, wrong
from bridge.files.spoken import About, read_about
from bridge.files.tree import Node, Table, Text

SWITCH_WORDS = {"off": False, "on": True}


class SettingReader:
    """Reads one switch or selector."""

    def __init__(
        self, name: str, kind: Kind, part: SettingPart, filling: Filling, notes: Notes
    ) -> None:
        self.name = name
        self.kind = kind
        self.part = part
        self.filling = filling
        self.notes = notes
        self.known: tuple[str, ...] = ()

    def read(self, place: Place) -> ControlType | None:
        """Return the control, or None after noting what is wrong."""
        part = self.part
        table = self._table()
        if table is None:
            return None
        about = None
        if part.message is not None:
            about = read_about(self.filling.fill(part.message), self.notes)
            if about is None:
                return None
        numbers, messages = self._cells(table, about)
        ask, hears = read_asking(part, self.filling, self.notes)
        told: dict[Value, tuple[Message, ...]] = {}
        toggle: tuple[Message, ...] = ()
        if part.toggle is not None:
            text = self.filling.fill(part.toggle)
            toggle = read_toggle(text, part, messages, about, self.notes)
            told, messages = messages, dict.fromkeys(self._values(), toggle)
        silent = [key.value for key, cell in table if _is_empty(cell)]
        is_set = part.by_hand or part.fixed or part.toggle
        if is_set is None and silent:
            self._no_messages(silent, table.place)
        fixed = self.value(part.fixed) if part.fixed else None
        released = _released(about, numbers)
        values = (fixed,) if fixed is not None else self._values()
        return ControlType(
            name=self.name,
            kind=self.kind,
            values=values,
            reach=_reach(part),
            about=about,
            numbers=numbers,
            messages=messages,
            at_power_up=_first(fixed, self.value(part.at_power_up), released),
            released=released,
            settle_ms=part.settle.value if part.settle else 0.0,
            gap=part.moves is not None and part.moves.value == "break before make",
            overlap=part.moves is not None and part.moves.value == "make before break",
            hand_words=self._hand_words(),
            gains_db=self._gains(),
            life=part.life.value if part.life else None,
            place=place,
            settle_to_ms=relay_times(part, values, released, self.notes),
            toggles=part.toggle is not None,
            told=told,
            ask=ask,
            hears=hears,
        )

    def _table(self) -> Table | None:
        """Return the table of values, or None after noting what is wrong."""
        table = self.part.values.node
        if not isinstance(table, Table) or not len(table):
            must = "a table of values, such as {off: 0, on: 127}"
            wrong(self.notes, table, must)
            return None
        self.known = tuple(key.value for key, _ in table)
        if self.kind is not Kind.SWITCH or sorted(self.known) == ["off", "on"]:
            return table
        got = " and ".join(self.known)
        self.notes.error(
            "wrong-value",
            f"a switch has the values off and on, got {got}",
            table.place,
            cure="for other values, make it a selector",
        )
        return None

    def value(self, text: Text | None) -> Value | None:
        """Return the value that a word stands for; notes a word that is none."""
        if text is None:
            return None
        if text.value in self.known:
            return self._as_value(text.value)
        unknown_name(
            self.notes,
            "unknown-value",
            f"the value of {self.name}",
            text.value,
            text.place,
            self.known,
        )
        return None

    def _as_value(self, word: str) -> Value:
        return SWITCH_WORDS[word] if self.kind is Kind.SWITCH else word

    def _values(self) -> tuple[Value, ...]:
        if self.kind is Kind.SWITCH:
            return (False, True)
        return self.known

    def _cells(
        self, table: Table, about: About | None
    ) -> tuple[tuple[tuple[Value, float], ...], dict[Value, tuple[Message, ...]]]:
        numbers: list[tuple[Value, float]] = []
        messages: dict[Value, tuple[Message, ...]] = {}
        for key, cell in table:
            value = self._as_value(key.value)
            if about is not None:
                number = number_in(cell, about, self.filling, self.notes)
                if number is not None:
                    messages[value] = about.messages(number)
                    numbers.append((value, float(number)))
            elif said := self._messages(cell):
                messages[value] = said
        return tuple(numbers), messages

    def _messages(self, cell: Node) -> tuple[Message, ...]:
        if isinstance(cell, Text) and not cell.value:
            return ()
        return messages_in(cell, self.filling, self.notes)

    def _no_messages(self, silent: list[str], place: Place) -> None:
        self.notes.error(
            "no-message",
            f'"{self.name}" has no message that sets it to {", ".join(silent)}',
            place,
            cure="write what each value sends, or say what a person does with by hand:",
        )

    def _hand_words(self) -> dict[Value, str]:
        words: dict[Value, str] = {}
        for key, text in _texts(self.part.by_hand, self.notes):
            value = self.value(key)
            if value is not None:
                words[value] = self.filling.fill(text).value
        return words

    def _gains(self) -> dict[Value, float]:
        gains: dict[Value, float] = {}
        for key, text in _texts(self.part.gains, self.notes):
            value = self.value(key)
            gain = level(text, self.notes)
            if value is not None and gain is not None:
                gains[value] = gain
        return gains


def _texts(later: Later | None, notes: Notes) -> list[tuple[Text, Text]]:
    if later is None:
        return []
    if not isinstance(later.node, Table):
        wrong(notes, later.node, "a table with a text for each value")
        return []
    pairs = []
    for key, cell in later.node:
        if isinstance(cell, Text):
            pairs.append((key, cell))
        else:
            wrong(notes, cell, "a text")
    return pairs


def _reach(part: SettingPart) -> Reach:
    if part.fixed is not None:
        return Reach.FIXED
    return Reach.HAND if part.by_hand is not None else Reach.REMOTE


def _released(
    about: About | None, numbers: tuple[tuple[Value, float], ...]
) -> Value | None:
    """Return the value of a line that is not driven, or of a coil that is off."""
    if about is None or about.transport not in ("line", "modbus"):
        return None
    return next((value for value, number in numbers if not number), None)


def _is_empty(cell: Node) -> bool:
    return not (cell.value if isinstance(cell, Text) else len(cell))


def _first(*values: Value | None) -> Value | None:
    return next((value for value in values if value is not None), None)
