"""Tables with keys of ours: one table of keys does everything.

Strategy: a class marked `@part` lists the keys of one table; its fields are made with
`needed`, `maybe` and `several`, each with the shape of what belongs there and a line
that says what it is for. From the same fields come reading, the texts of errors, what
an editor completes, and the format's JSON Schema; mypy holds field and shape together.

Why no validation library: our texts stay texts until somebody knows their unit, keys
have spaces, places matter, and every message is our own; nothing would be left for it
to do but to carry the tables.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Any, Generic, TypeVar, dataclass_transform

from bridge.files.near import nearest_first
from bridge.files.notes import Notes
from bridge.files.shapes import Schema, Shape, unknown_name, wrong
from bridge.files.tree import Node, Table, Text

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table of ours."""

    name: str
    shape: Shape[Any]
    about: str
    needed: bool
    instead: object = None


def needed(name: str, shape: Shape[T], about: str, *, instead: T | None = None) -> T:
    """A key that must be there.

    instead: goes on with this where the key is missing or wrong, which is noted, so
    that the rest of the table is read too.
    """
    key = Key(name, shape, about, needed=True, instead=instead)
    made: T = field(metadata={"key": key})
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
    """A table with the keys that a class marked `@part` lists.

    goes_on: a wrong value that need not be there counts as left out, after it is
        noted, so that the rest of a whole document is read too.
    """

    cls: type[T]
    what: str
    goes_on: bool = False

    def read(self, node: Node, notes: Notes) -> T | None:
        """Return an instance, or None if a needed key is missing or a value wrong."""
        keys = keys_of(self.cls)
        if isinstance(node, Text) and not node.value and not node.quoted:
            node = Table((), node.place)
        if not isinstance(node, Table):
            listed = ", ".join(key.name for _, key in keys)
            note = f"its keys: {listed}" if keys else "it has no keys: write {}"
            wrong(notes, node, f"a table ({self.what})", note=note)
            return None
        strange = self._strange(node, notes)
        values: dict[str, Any] = {"place": node.place}
        whole = True
        for attribute, key in keys:
            child = node.get(key.name)
            if child is None and not key.needed:
                continue
            if child is not None:
                values[attribute] = key.shape.read(child, notes)
            elif key.name not in strange:
                self._missing(node, key, notes)
            if values.get(attribute) is None and self.goes_on and not key.needed:
                del values[attribute]
            elif values.get(attribute) is None:
                values[attribute] = key.instead
                whole = whole and key.instead is not None
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
