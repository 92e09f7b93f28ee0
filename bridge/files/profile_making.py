"""A profile while it is read: points, controls and flows that grow."""

from __future__ import annotations

from dataclasses import dataclass, field

from bridge.core.control import Kind
from bridge.core.finding import Place
from bridge.files.notes import Notes
from bridge.files.profile_model import ControlType, Flow, Gating, Jack
from bridge.files.tree import Text

ON_TABLE = ((True, 1.0),)
"""A switch lets sound through while it is on."""


@dataclass(slots=True)
class Making:
    """What is known of the profile so far.

    broken: names of jacks, points and controls that could not be read.
    """

    notes: Notes
    jacks: dict[str, Jack] = field(default_factory=dict)
    points: dict[str, int] = field(default_factory=dict)
    controls: dict[str, ControlType] = field(default_factory=dict)
    flows: list[Flow] = field(default_factory=list)
    broken: set[str] = field(default_factory=set)

    def point(self, name: Text, lanes: int) -> None:
        """Add a jack or a point inside; notes a name that is taken."""
        self._free(name.value, name.place, taken=name.value in self.points)
        self.points[name.value] = lanes

    def control(self, name: str, control: ControlType | None, place: Place) -> None:
        """Add a control, or remember that it is broken; notes a name that is taken."""
        self._free(name, place, taken=name in self.controls)
        if control is None:
            self.broken.add(name)
        else:
            self.controls.setdefault(name, control)

    def through(self, name: str) -> list[Gating]:
        """Return the gate of a control, none if there is no such control."""
        control = self.controls.get(name)
        if control is None:
            return []
        return [Gating(name, None if control.kind is Kind.LEVEL else ON_TABLE)]

    def _free(self, name: str, place: Place, *, taken: bool) -> None:
        if taken:
            self.notes.error(
                "name-twice",
                f'"{name}" is the name of two things of this profile',
                place,
                cure="give one of them another name",
            )
