"""What a document is after reading: texts, listings and tables that know their place.

A scalar stays the text that was written. Whether `off` is a switch and `180 ms` a
time is decided by who knows what belongs there, never here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.core.finding import Place


@dataclass(frozen=True, slots=True)
class Text:
    """A scalar as it was written, without its quotes; "" where nothing was written."""

    value: str
    place: Place
    quoted: bool = False

    def __str__(self) -> str:
        return self.value

    def part(self, start: int, end: int) -> Place:
        """Return the place of value[start:end], or of all if that cannot be told."""
        place, edge = self.place, int(self.quoted)
        if place.end_column - place.column != len(self.value) + 2 * edge:
            return place
        column = place.column + edge
        return Place(place.file, place.line, column + start, column + end)


@dataclass(frozen=True, slots=True)
class Listing:
    """Items in their order. The place is that of the first dash, or of the brackets."""

    items: tuple[Node, ...]
    place: Place

    def __iter__(self) -> Iterator[Node]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)


@dataclass(frozen=True, slots=True)
class Table:
    """Names with what belongs to them, in their order; no name comes twice.

    The place is that of the first name, or of the brackets.
    """

    entries: tuple[tuple[Text, Node], ...]
    place: Place

    def __iter__(self) -> Iterator[tuple[Text, Node]]:
        return iter(self.entries)

    def __len__(self) -> int:
        return len(self.entries)

    def get(self, name: str) -> Node | None:
        """Return what belongs to a name. A scan: meant for tables of a few names."""
        return next((node for key, node in self.entries if key.value == name), None)

    def key(self, name: str) -> Text | None:
        """Return the name itself, which has a place."""
        return next((key for key, _ in self.entries if key.value == name), None)


Node = Text | Listing | Table
