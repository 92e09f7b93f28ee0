"""Shapes: what a part of a document must look like, how it is read, and its schema.

Rules of this file: a shape reads one node; it returns None after noting what is
wrong, and never raises. Its JSON Schema says the same as its reading.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar

from bridge.core.finding import Place
from bridge.files.near import did_you_mean, nearest_first
from bridge.files.notes import Notes
from bridge.files.tree import Listing, Node, Table, Text

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)
Schema = dict[str, Any]
CLASH = ".:>\"'{}[]"
"""Signs that a name must not have: they part names from one another."""


class Shape(Protocol[T_co]):
    """What a part of a document must look like."""

    def read(self, node: Node, notes: Notes) -> T_co | None:
        """Return what the node says, or None after noting what is wrong."""
        ...

    def schema(self) -> Schema:
        """Return the JSON Schema of this part."""
        ...


@dataclass(frozen=True, slots=True)
class Said(Generic[T]):
    """A value, and where the file says it."""

    value: T
    place: Place


NOTHING = Text("", Place("", 1, 1, 1))
"""Stands for a text that is missing or wrong, which is noted elsewhere."""


def wrong(
    notes: Notes, node: Node, must: str, *, cure: str = "", note: str = ""
) -> None:
    """Note that a node is not what must be there."""
    came = came_words(node)
    notes.error(
        "wrong-value",
        f"this must be {must}, got {came}",
        node.place,
        cure=cure,
        note=note,
    )


def came_words(node: Node) -> str:
    """Say what is there: `"abc"`, a list, a table, nothing."""
    if isinstance(node, Text):
        return f'"{node.value}"' if node.value or node.quoted else "nothing"
    return "a list" if isinstance(node, Listing) else "a table"


def unknown_name(
    notes: Notes,
    rule: str,
    what: str,
    name: str,
    place: Place,
    known: Iterable[str],
    *,
    cure: str = "",
) -> None:
    """Note a name that nobody knows, with the known names, nearest first."""
    near = () if notes.is_full() else nearest_first(name, known)
    shown = ", ".join(near[:MOST_SHOWN]) + (", ..." if len(near) > MOST_SHOWN else "")
    notes.error(
        rule,
        f'{what} "{name}" is not known',
        place,
        note=f"known: {shown}" if near else "none is known",
        cure=cure or did_you_mean(name, near),
    )


MOST_SHOWN = 12
"""Known names shown; more than a dozen are not read."""


# Shapes of one text


@dataclass(frozen=True, slots=True)
class Words:
    """Any text that is not empty."""

    what: str = "a text"
    pattern: str = ""

    def read(self, node: Node, notes: Notes) -> Text | None:
        """Return the text."""
        if isinstance(node, Text) and node.value:
            return node
        wrong(notes, node, self.what)
        return None

    def schema(self) -> Schema:
        """A string; numbers without quotation marks are texts too."""
        if self.pattern:
            return {"type": "string", "pattern": self.pattern}
        return {"type": ["string", "number"]}


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words."""

    words: tuple[str, ...]

    def read(self, node: Node, notes: Notes) -> Said[str] | None:
        """Return the word."""
        if isinstance(node, Text) and node.value in self.words:
            return Said(node.value, node.place)
        text = node.value if isinstance(node, Text) else ""
        near = nearest_first(text, self.words) if text else self.words
        wrong(notes, node, f"one of: {', '.join(near)}")
        return None

    def schema(self) -> Schema:
        """An enumeration."""
        return {"enum": list(self.words)}


@dataclass(frozen=True, slots=True)
class TrueOrFalse:
    """A yes or no, written true or false."""

    def read(self, node: Node, notes: Notes) -> Said[bool] | None:
        """Return the truth."""
        if isinstance(node, Text) and node.value in ("true", "false"):
            return Said(node.value == "true", node.place)
        wrong(notes, node, "true or false")
        return None

    def schema(self) -> Schema:
        """A boolean."""
        return {"type": "boolean"}


@dataclass(frozen=True, slots=True)
class Line:
    """The number or the name of a line of contacts."""

    def read(self, node: Node, notes: Notes) -> Said[int | str] | None:
        """Return the number, or the name."""
        if isinstance(node, Text) and node.value:
            digits = node.value.isdecimal() and node.value.isascii()
            value: int | str = (
                int(node.value) if digits and len(node.value) < 5 else node.value
            )
            return Said(value, node.place)
        wrong(notes, node, "the number or the name of a line")
        return None

    def schema(self) -> Schema:
        """An integer or a name."""
        return {"type": ["integer", "string"]}


# Shapes of several


@dataclass(frozen=True, slots=True)
class Items(Generic[T]):
    """A list; where `alone` is allowed, one item may stand without its list."""

    item: Shape[T]
    alone: bool = False
    what: str = "a list"

    def read(self, node: Node, notes: Notes) -> tuple[T, ...] | None:
        """Return the items that could be read."""
        if not isinstance(node, Listing):
            if not self.alone:
                wrong(
                    notes,
                    node,
                    self.what,
                    cure="write it in a line of its own, after a dash and a blank",
                )
                return None
            node = Listing((node,), node.place)
        read = [self.item.read(item, notes) for item in node]
        return tuple(item for item in read if item is not None)

    def schema(self) -> Schema:
        """An array, or also the item itself."""
        many: Schema = {"type": "array", "items": self.item.schema()}
        return {"anyOf": [self.item.schema(), many]} if self.alone else many


@dataclass(frozen=True, slots=True)
class Entry(Generic[T]):
    """One name of a table and what belongs to it; None if that is broken."""

    name: Text
    part: T | None


@dataclass(frozen=True, slots=True)
class Names(Generic[T]):
    """A table whose names the writer chooses."""

    item: Shape[T]
    what: str = "a table: a name, a colon, and what belongs to it"
    clash: str = ""

    def read(self, node: Node, notes: Notes) -> tuple[Entry[T], ...] | None:
        """Return every entry, the broken ones too, so that their names are known."""
        if isinstance(node, Text) and not node.value and not node.quoted:
            return ()
        if not isinstance(node, Table):
            wrong(notes, node, self.what)
            return None
        for key, _ in node:
            self._check(key, notes)
        return tuple(Entry(key, self.item.read(item, notes)) for key, item in node)

    def _check(self, key: Text, notes: Notes) -> None:
        bad = next((sign for sign in self.clash if sign in key.value), None)
        if bad:
            notes.error(
                "bad-name",
                f'a name must have no "{bad}", got "{key.value}"',
                key.place,
                note="names are letters, digits, blanks, and signs such as - / +",
                cure="choose another name",
            )

    def schema(self) -> Schema:
        """An object with free names."""
        return {"type": "object", "additionalProperties": self.item.schema()}


@dataclass(frozen=True, slots=True)
class Later:
    """A part that is not read yet."""

    node: Node


@dataclass(frozen=True, slots=True)
class Raw:
    """A part that is read later, by whoever knows the names in it."""

    form: Callable[[], Schema]

    def read(self, node: Node, notes: Notes) -> Later:  # noqa: ARG002
        """Return the node itself."""
        return Later(node)

    def schema(self) -> Schema:
        """Whatever the later reader says."""
        return self.form()
