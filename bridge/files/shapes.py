"""Shapes: what a part of a document must look like, how it is read, and its schema.

Strategy: one table of keys does everything. A class marked `@part` lists the keys of
one table; its fields are made with `needed`, `maybe` and `several`, each with the
shape of what belongs there and a line that says what it is for. From the same fields
come reading, error texts, the editor's completion and the format's JSON Schema.
A shape reads one node; it returns None after noting what is wrong, and never raises.

Why not a validation library: our texts stay texts until somebody knows their unit,
keys have spaces, and every message is our own, so it would only carry the tables.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, fields
from typing import Any, Generic, Protocol, TypeVar, dataclass_transform

from bridge.core.finding import Place
from bridge.files.near import did_you_mean, nearest_first
from bridge.files.notes import Notes
from bridge.files.tree import Listing, Node, Table, Text

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)
Schema = dict[str, Any]


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
    near = nearest_first(name, known)
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
                wrong(notes, node, self.what, cure="put it between [ and ]")
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


# Tables with keys of ours


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table of ours."""

    name: str
    shape: Shape[Any]
    about: str
    needed: bool


def needed(name: str, shape: Shape[T], about: str) -> T:
    """A key that must be there."""
    made: T = field(metadata={"key": Key(name, shape, about, needed=True)})
    return made


def maybe(name: str, shape: Shape[T], about: str) -> T | None:
    """A key that may be left out."""
    key = Key(name, shape, about, needed=False)
    made: T | None = field(default=None, metadata={"key": key})
    return made


def several(name: str, shape: Shape[tuple[T, ...]], about: str) -> tuple[T, ...]:
    """A key that may be left out, and then means none."""
    key = Key(name, shape, about, needed=False)
    made: tuple[T, ...] = field(default=(), metadata={"key": key})
    return made


@dataclass_transform(
    kw_only_default=True,
    frozen_default=True,
    field_specifiers=(needed, maybe, several),
)
def part(cls: type[T]) -> type[T]:
    """Make a class the description of a table; its first field must be `place`."""
    return dataclass(frozen=True, slots=True, kw_only=True)(cls)


def keys_of(cls: type[Any]) -> Sequence[tuple[str, Key]]:
    """Return (attribute, key) of a described table, in the order of writing."""
    return [(f.name, f.metadata["key"]) for f in fields(cls) if "key" in f.metadata]


@dataclass(frozen=True, slots=True)
class Part(Generic[T]):
    """A table with the keys that a class marked `@part` lists."""

    cls: type[T]
    what: str

    def read(self, node: Node, notes: Notes) -> T | None:
        """Return an instance, or None if a needed key is missing or a value wrong."""
        keys = keys_of(self.cls)
        if isinstance(node, Text) and not node.value and not node.quoted:
            node = Table((), node.place)
        if not isinstance(node, Table):
            listed = ", ".join(key.name for _, key in keys)
            wrong(notes, node, f"a table ({self.what})", note=f"its keys: {listed}")
            return None
        strange = self._strange(node, notes)
        values: dict[str, Any] = {"place": node.place}
        whole = True
        for attribute, key in keys:
            child = node.get(key.name)
            if child is None:
                if key.needed:
                    whole = False
                    if key.name not in strange:
                        self._missing(node, key, notes)
                continue
            value = key.shape.read(child, notes)
            if value is None:
                whole = False
            values[attribute] = value
        return self.cls(**values) if whole else None

    def _strange(self, node: Table, notes: Notes) -> set[str]:
        """Note unknown keys; return what they were perhaps meant to be."""
        known = [key.name for _, key in keys_of(self.cls)]
        free = [name for name in known if node.get(name) is None]
        meant = set()
        for key, _ in node:
            if key.value not in known:
                near = nearest_first(key.value, free)
                meant |= set(near[:1])
                unknown_name(
                    notes,
                    "unknown-key",
                    f"{self.what}: the key",
                    key.value,
                    key.place,
                    [*near, *(name for name in known if name not in free)],
                )
        return meant

    def _missing(self, node: Table, key: Key, notes: Notes) -> None:
        notes.error(
            "missing-key",
            f'{self.what}: "{key.name}" is missing',
            node.place,
            note=key.about,
            cure=f'add a line "{key.name}: ..."',
        )

    def schema(self) -> Schema:
        """An object with these keys and no others."""
        keys = [key for _, key in keys_of(self.cls)]
        return {
            "type": "object",
            "description": self.what,
            "properties": {
                key.name: {**key.shape.schema(), "description": key.about}
                for key in keys
            },
            "required": [key.name for key in keys if key.needed],
            "additionalProperties": False,
        }
