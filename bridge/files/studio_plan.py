"""Where things stand in their room: `at: [1.2 m, 0.4 m]`, `facing: 130 deg`.

Distances and angles follow from it. The plan of a room has its corner where its owner
likes; x goes along, y across, and facing 0 deg looks along x, 90 deg along y. Only a
microphone looks somewhere; one that says nothing looks at who speaks into it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bridge.core.finding import Place
from bridge.core.rooms import Spot, bearing_deg, distance_m, off_axis_deg
from bridge.files.shapes import Said
from bridge.files.studio_draft import FAR_AWAY, Draft, Gear, whole

NEAREST_M = 0.01
"""Nearer than this, two things are in one place."""

STANDS = ("microphone", "speakers")
"""The kinds of gear that have a place on the plan."""

LOOKS = "microphone"
"""The kind that looks somewhere."""


class Plan:
    """The spots that the file gives, by name."""

    def __init__(self, draft: Draft) -> None:
        self._draft = draft
        self._spots: dict[str, Spot] = {}
        for name, said, refused in self._placed():
            if refused:
                self._needless(refused, said[0].place)
            else:
                self._spots[name] = Spot(said[0].value, said[1].value)
        self._look()

    def knows(self, *names: str) -> bool:
        """Return whether all of these have a spot."""
        return all(name in self._spots for name in names)

    def between(self, one: str, other: str, axis_of: str) -> tuple[float, float] | None:
        """Return the distance in m, and the angle off the axis of one of the two.

        None, and a note, if both are in one place.
        """
        away = distance_m(self._spots[one], self._spots[other])
        if away < NEAREST_M:
            self._draft.notes.error(
                "one-place",
                f"{one} and {other} stand in one place",
                self._places()[other],
                note="how loud one is at the other follows from how far apart they are",
                cure="measure where they are, and mend one at:",
            )
            return None
        toward = other if axis_of == one else one
        return away, off_axis_deg(self._spots[axis_of], self._spots[toward])

    def _placed(self) -> Iterator[tuple[str, tuple[Said[float], Said[float]], str]]:
        """Every name with its coordinates; and why it can have none, if it cannot."""
        for name, person, _ in self._draft.people():
            if person.at is not None:
                away = f"{name} is far away, and stands in no room here"
                yield name, person.at, away if person.room.value == FAR_AWAY else ""
        for gear in self._draft.gear.values():
            if gear.part.at is not None:
                yield gear.name, gear.part.at, _nowhere(gear)

    def _look(self) -> None:
        """Turn the microphones."""
        for gear in self._draft.gear.values():
            facing, speaker = gear.part.facing, gear.part.speaker
            spot = self._spots.get(gear.name)
            if facing is not None and gear.profile.kind != LOOKS:
                self._needless(
                    f"{gear.name}: only a microphone looks somewhere", facing.place
                )
            elif facing is not None and spot is None:
                self._needless(
                    f"{gear.name}: it is said where it looks, and not where it stands",
                    facing.place,
                    "add at: with its place, or leave the line out",
                )
            elif spot is not None and facing is not None:
                self._spots[gear.name] = replace(spot, facing_deg=facing.value)
            elif spot is not None and speaker and speaker.value in self._spots:
                toward = bearing_deg(spot, self._spots[speaker.value])
                self._spots[gear.name] = replace(spot, facing_deg=toward)

    def _needless(self, message: str, place: Place, cure: str = "leave it out") -> None:
        self._draft.notes.error("needless-place", message, place, cure=cure)

    def _places(self) -> dict[str, Place]:
        people = {name: place for name, _, place in whole(self._draft.part.people)}
        return people | {gear.name: gear.place for gear in self._draft.gear.values()}


def _nowhere(gear: Gear) -> str:
    """Why a piece of gear has no place on the plan; nothing if it has one."""
    if gear.profile.kind in STANDS:
        return ""
    if gear.profile.kind == "headphones":
        return f"{gear.name}: headphones are where their wearer is"
    return f"{gear.name}: where it stands makes no difference to what is heard"
