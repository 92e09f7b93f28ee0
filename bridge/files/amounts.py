"""Shapes of numbers: whole ones, quantities with units, levels and distances."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.finding import Finding, Place
from bridge.files import quantity
from bridge.files.kinds import GAIN, Kind
from bridge.files.lines import split
from bridge.files.notes import Notes
from bridge.files.shapes import Said, Schema, wrong
from bridge.files.tree import Listing, Node, Text


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number in a range."""

    low: int
    high: int
    what: str = "this"

    def read(self, node: Node, notes: Notes) -> Said[int] | None:
        """Return the number."""
        if not isinstance(node, Text):
            wrong(notes, node, f"a whole number in {self.low}..{self.high}")
            return None
        number = quantity.whole(node, self.what, self.low, self.high)
        if isinstance(number, Finding):
            notes.add((number,))
            return None
        return Said(number, node.place)

    def schema(self) -> Schema:
        """An integer with bounds."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its unit."""

    kind: Kind

    def read(self, node: Node, notes: Notes) -> Said[float] | None:
        """Return the value in the core's unit."""
        if not isinstance(node, Text):
            wrong(notes, node, f"{self.kind.what} such as {self.kind.example}")
            return None
        value = quantity.quantity(node, self.kind)
        if isinstance(value, Finding):
            notes.add((value,))
            return None
        return Said(value, node.place)

    def schema(self) -> Schema:
        """A string with a unit."""
        return {"type": "string", "pattern": self.kind.pattern}


@dataclass(frozen=True, slots=True)
class At:
    """A value, and the one that it is given at, if any."""

    value: float
    at: float | None
    place: Place


@dataclass(frozen=True, slots=True)
class AmountAt:
    """A quantity at another: 74 dB at 1 m, 1.2 m at 130 deg; the second may lack."""

    kind: Kind
    at: Kind
    needs_at: bool = False

    @property
    def example(self) -> str:
        """How it is written."""
        return f"{self.kind.example} at {self.at.example}"

    def read(self, node: Node, notes: Notes) -> At | None:
        """Return both values; None for a second one that is not there."""
        if not isinstance(node, Text):
            wrong(notes, node, f"{self.kind.what} such as {self.example}")
            return None
        pieces = split(node, "at")
        kinds = (self.kind, self.at)
        if len(pieces) > 2 or (self.needs_at and len(pieces) < 2):
            wrong(notes, node, f"{self.kind.what} at {self.at.what}: {self.example}")
            return None
        values = [
            Amount(kind).read(piece, notes)
            for piece, kind in zip(pieces, kinds, strict=False)
        ]
        first, second = [*values, None][:2]
        if first is None or (len(pieces) == 2 and second is None):
            return None
        return At(first.value, None if second is None else second.value, node.place)

    def schema(self) -> Schema:
        """A string with a unit, and perhaps another."""
        first, second = (kind.pattern.strip("^$") for kind in (self.kind, self.at))
        tail = f"(?: at {second})" + ("" if self.needs_at else "?")
        return {"type": "string", "pattern": f"^{first}{tail}$"}


@dataclass(frozen=True, slots=True)
class Two:
    """Two quantities of one kind, as a place on a plan: [1.2 m, 0.4 m]."""

    kind: Kind
    what: str

    def read(self, node: Node, notes: Notes) -> tuple[Said[float], Said[float]] | None:
        """Return both."""
        if not isinstance(node, Listing) or len(node) != 2:
            example = self.kind.example
            wrong(notes, node, f"{self.what}, such as [{example}, {example}]")
            return None
        first, second = (Amount(self.kind).read(item, notes) for item in node)
        return None if first is None or second is None else (first, second)

    def schema(self) -> Schema:
        """An array of two strings with a unit."""
        item = Amount(self.kind).schema()
        return {"type": "array", "items": item, "minItems": 2, "maxItems": 2}


def amount(text: Text, kind: Kind, notes: Notes) -> float | None:
    """Read a quantity that stands inside a sentence."""
    said = Amount(kind).read(text, notes)
    return None if said is None else said.value


def level(text: Text, notes: Notes) -> float | None:
    """Read a level: so many dB, or off."""
    return amount(text, GAIN, notes)
