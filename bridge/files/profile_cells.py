"""The cells of a table of values: a number for the message above, or whole messages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.core.wire import Message
from bridge.files.notes import Notes
from bridge.files.shapes import wrong
from bridge.files.spoken import About, read_number
from bridge.files.spoken_whole import read_messages
from bridge.files.tree import Listing, Node, Text


@dataclass(frozen=True, slots=True)
class Filling:
    """What the words in braces stand for in a text of a template."""

    words: Mapping[str, str]

    def fill(self, text: Text) -> Text:
        """Return the text with its words filled in; it keeps its place."""
        value = text.value
        for word, filled in self.words.items():
            value = value.replace(f"{{{word}}}", filled)
        return Text(value, text.place, text.quoted)


NO_FILLING = Filling({})


def number_in(cell: Node, about: About, filling: Filling, notes: Notes) -> float | None:
    """The number that the message carries; notes what is none."""
    if isinstance(cell, Text):
        return read_number(about, filling.fill(cell), notes)
    wrong(notes, cell, "the number that the message carries")
    return None


def messages_in(cell: Node, filling: Filling, notes: Notes) -> tuple[Message, ...]:
    """The whole messages of a cell: one, or a list; notes what is none."""
    messages: list[Message] = []
    for item in cell.items if isinstance(cell, Listing) else (cell,):
        if isinstance(item, Text):
            messages += read_messages(filling.fill(item), notes)
        else:
            wrong(notes, item, "a message")
    return tuple(messages)
