"""A studio while it is read: what every step finds and the next ones need."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeVar

from bridge.core.connection import Connection
from bridge.core.finding import Place
from bridge.core.graph import AirGear, Listener, Source
from bridge.core.jacks import Cable
from bridge.files.notes import Notes
from bridge.files.profile_model import ControlType, Profile
from bridge.files.schema_gear import GearPart
from bridge.files.schema_people import PersonPart
from bridge.files.schema_studio import StudioPart
from bridge.files.shapes import Entry
from bridge.files.studio_graph import GraphBuilder

T = TypeVar("T")

FAR_AWAY = "far away"
"""The room of everybody who is not here."""


@dataclass(frozen=True, slots=True)
class Gear:
    """One piece of gear with its profile. port: the name of its connection."""

    name: str
    part: GearPart
    profile: Profile
    place: Place
    port: str


@dataclass(slots=True)
class Draft:
    """What is known so far.

    incomplete: something that names depend on is broken, so that a name which is not
    known need not be wrong.
    """

    part: StudioPart
    notes: Notes
    graph: GraphBuilder = field(default_factory=GraphBuilder)
    gear: dict[str, Gear] = field(default_factory=dict)
    cables: list[Cable] = field(default_factory=list)
    connections: list[Connection] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    listeners: list[Listener] = field(default_factory=list)
    air_gear: list[AirGear] = field(default_factory=list)
    incomplete: bool = False

    def people(self) -> Iterator[tuple[str, PersonPart, Place]]:
        """The people whose description is whole."""
        yield from whole(self.part.people)

    def controls(self) -> Iterator[tuple[Gear, ControlType]]:
        """Every control of every gear."""
        for gear in self.gear.values():
            for control in gear.profile.controls.values():
                yield gear, control


def whole(entries: tuple[Entry[T], ...]) -> Iterator[tuple[str, T, Place]]:
    """The entries whose description is whole, with their names' places."""
    for entry in entries:
        if entry.part is not None:
            yield entry.name.value, entry.part, entry.name.place


def full_name(gear: Gear, control: ControlType) -> str:
    """Return the name of a control in all the studio."""
    return f"{gear.name}: {control.name}"
