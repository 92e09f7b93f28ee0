"""What the lamps of a studio show: `pads.light 1: phones`."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from bridge.core.lamp import Lamp, Shows
from bridge.files.profile_model import LampType
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Draft, Gear
from bridge.files.tree import Text

WORDS = {shows.value: shows for shows in (Shows.EVERYTHING, Shows.TROUBLE)}


def read_lamps(draft: Draft, scenes: Collection[str]) -> tuple[Lamp, ...]:
    """Read what every lamp shows; notes what is wrong."""
    found = []
    for entry in draft.part.lamps:
        here = _lamp(draft, entry.name)
        shows = _shows(draft, entry.name, entry.part or (), scenes)
        if here is not None and shows is not None:
            gear, lamp = here
            found.append(_made(gear, lamp, entry.name.value, *shows))
    return tuple(found)


def _made(
    gear: Gear, lamp: LampType, name: str, shows: Shows, scenes: tuple[str, ...]
) -> Lamp:
    messages = {
        sign: tuple(replace(message, port=gear.port) for message in each)
        for sign, each in lamp.messages.items()
    }
    return Lamp(name, gear.port, shows, scenes, messages)


def _lamp(draft: Draft, name: Text) -> tuple[Gear, LampType] | None:
    owner, _, which = name.value.partition(".")
    gear = draft.gear.get(owner)
    if gear is not None and which in gear.profile.lamps:
        return gear, gear.profile.lamps[which]
    known = [
        f"{g.name}.{lamp}" for g in draft.gear.values() for lamp in g.profile.lamps
    ]
    if known:
        rule = "unknown-lamp"
        unknown_name(draft.notes, rule, "the lamp", name.value, name.place, known)
    elif not draft.incomplete:
        draft.notes.error(
            "unknown-lamp",
            f'no gear has a lamp, got "{name.value}"',
            name.place,
            note="lamps stand in a profile, such as pad-lights or indicator-gpio",
            cure="add the gear that has them, and write GEAR.LAMP",
        )
    return None


def _shows(
    draft: Draft, name: Text, words: tuple[Text, ...], scenes: Collection[str]
) -> tuple[Shows, tuple[str, ...]] | None:
    for word in words:
        if word.value in WORDS and word.value in scenes:
            draft.notes.error(
                "ambiguous-name",
                f'"{word.value}" is a scene here, and a word for what lamps show',
                word.place,
                cure="give the scene another name",
            )
            return None
        if word.value not in WORDS and word.value not in scenes:
            known = [*scenes, *WORDS]
            what, rule = "the scene", "unknown-scene"
            unknown_name(draft.notes, rule, what, word.value, word.place, known)
            return None
    said = tuple(word.value for word in words)
    if len(said) == 1 and said[0] in WORDS:
        return WORDS[said[0]], ()
    if said and not any(word in WORDS for word in said):
        return Shows.SCENES, said
    draft.notes.error(
        "wrong-value",
        f'{name.value} must show one or more scenes, or "everything", or "trouble"',
        words[0].place if words else name.place,
        cure="take another lamp for the other, or leave it out",
    )
    return None
