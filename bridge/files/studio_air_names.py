"""The rooms and people that gear in the air names: each must be known, and here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Draft, Gear
from bridge.files.tree import Text


def rooms_known(draft: Draft, gear: Iterable[Gear], people: Mapping[str, str]) -> bool:
    """Whether every room that gear stands in is one; notes those that are not.

    people: those who are here, each with their room.
    """
    known = {*people.values(), *(each.name.value for each in draft.part.rooms)}
    rooms = [each.part.room for each in gear]
    unknown = [room for room in rooms if room is not None and room.value not in known]
    for room in () if draft.incomplete else unknown:
        unknown_name(
            draft.notes,
            "unknown-name",
            "the room",
            room.value,
            room.place,
            known,
            cure="a room is known when a person is in it, or from rooms:",
        )
    return not unknown


def people_known(draft: Draft, gear: Iterable[Gear], people: Mapping[str, str]) -> bool:
    """Whether whoever is at microphones and headphones is here; notes who is not."""
    names = [name for each in gear for name in (each.part.speaker, each.part.wearer)]
    nobody = [name for name in names if name is not None and name.value not in people]
    for name in nobody:
        _nobody(draft, name)
    return not nobody


def _nobody(draft: Draft, name: Text) -> None:
    known = {entry.name.value for entry in draft.part.people}
    if name.value not in known:
        unknown_name(
            draft.notes,
            "unknown-name",
            "the person",
            name.value,
            name.place,
            known,
        )
    elif any(name.value == person for person, _, _ in draft.people()):
        draft.notes.error(
            "far-person",
            f"{name.value} is far away, and cannot be at gear that is here",
            name.place,
            cure="name somebody who is here",
        )
