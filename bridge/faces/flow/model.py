"""What there is to draw, as values: boxes with jacks, joins inside, cables between."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Light(Enum):
    """Whether sound of some source gets through here to some listener."""

    LIT = "lit"
    PERHAPS = "perhaps"
    DARK = "dark"


class Side(Enum):
    """Where a box stands: sound comes out of it, ends in it, or goes through it."""

    SOURCE = "source"
    THROUGH = "through"
    SINK = "sink"


@dataclass(frozen=True, slots=True)
class Jack:
    """A jack that something is connected to. gain_db: what its level adds, if known."""

    name: str
    label: str
    light: Light
    gain_db: float = 0.0


@dataclass(frozen=True, slots=True)
class Join:
    """Where an input may meet an output inside a box.

    light: LIT or PERHAPS if sound gets through, DARK if it is open but silent.
    shut_by: labels of the controls that cut it; empty if it is not cut.
    is_open: False if it may not let anything through. guard: number of the
    protection that this cut gives, or 0. is_gated: False for plain wire.
    """

    source: str
    target: str
    light: Light
    shut_by: tuple[str, ...] = ()
    guard: int = 0
    is_open: bool = True
    is_gated: bool = True


@dataclass(frozen=True, slots=True)
class Box:
    """One piece of gear, one person's mouth or ears, a program, a feed.

    A computer's jacks lead straight through: programs are at one end, cables at the
    other. Such a box has the same jacks as inputs and as outputs.
    """

    name: str
    title: str
    side: Side
    inputs: tuple[Jack, ...]
    outputs: tuple[Jack, ...]
    joins: tuple[Join, ...]

    @property
    def is_passage(self) -> bool:
        """Whether every jack leads straight through."""
        return bool(self.inputs) and self.inputs == self.outputs


@dataclass(frozen=True, slots=True)
class Run:
    """A cable, or a way through the air, from jack to jack."""

    source: str
    target: str
    light: Light
    through_air: bool = False
    gain_db: float = 0.0


@dataclass(frozen=True, slots=True)
class Chart:
    """All that is drawn. guards: what each protecting cut is there for, in words."""

    title: str
    boxes: tuple[Box, ...]
    runs: tuple[Run, ...]
    guards: tuple[str, ...]
