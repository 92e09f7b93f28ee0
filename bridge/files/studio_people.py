"""People, feeds and what computers play and take: sources, listeners, the call.

Strategy: a far person is a mouth and two ears behind half of the round trip each way;
what they hear comes back out of their mouth weaker by their echo return loss.
"""

from __future__ import annotations

import math

from bridge.core.finding import Place
from bridge.core.graph import Listener, Scale, Source
from bridge.core.studio import Person
from bridge.files.profile_model import Jack
from bridge.files.schema_people import PersonPart
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import FAR_AWAY, Draft, Gear, whole
from bridge.files.studio_gear import lanes
from bridge.files.studio_graph import Lanes
from bridge.files.tree import Text

PASCAL_DB_SPL = 94.0
"""1 pascal in dB SPL, rounded as everywhere in the trade (93.98)."""

ROUND_TRIP_MS = 300.0
"""Assumed where the file says none: the end of the range that ITU-T G.114 finds good
(150 ms one way)."""

ECHO_RETURN_LOSS_DB = 30.0
"""Assumed where the file says none. Common practice, no source."""

BOTH_EARS_DB = 20.0 * math.log10(2.0)
"""Taken off each ear's echo, so that a voice in the middle, which is in both, comes
back weaker by exactly the echo return loss."""


def mouth(draft: Draft, person: str) -> Lanes:
    """Return the node of a person's mouth."""
    return draft.graph.lanes(f"{person}.mouth", 1)


def ears(draft: Draft, person: str) -> Lanes:
    """Return the nodes of a person's ears."""
    return draft.graph.lanes(f"{person}.ear", 2)


def add_people(draft: Draft) -> tuple[Person, ...]:
    """Make every person a source and a listener."""
    people = []
    for name, part, place in draft.people():
        far = part.room.value == FAR_AWAY
        person = (
            _far(draft, name, part, place) if far else _near(draft, name, part, place)
        )
        people.append(person)
        draft.sources.append(Source(name, mouth(draft, name), person=name, place=place))
        cap = part.cap.value - PASCAL_DB_SPL if part.cap and not far else None
        draft.listeners.append(
            Listener(
                name,
                ears(draft, name),
                Scale.LINE if far else Scale.EAR,
                person=name,
                far=far,
                cap_db=cap,
                place=place,
            )
        )
    return tuple(people)


def add_feeds(draft: Draft) -> None:
    """Make every feed and recorder a listener, and every player a source."""
    for name, _, place in whole(draft.part.feeds):
        nodes = draft.graph.lanes(name, 2)
        draft.listeners.append(Listener(name, nodes, Scale.LINE, far=True, place=place))
    for gear in draft.gear.values():
        if gear.profile.kind == "recorder":
            nodes = _every_lane(draft, gear, outputs=False)
            draft.listeners.append(
                Listener(gear.name, nodes, Scale.LINE, far=True, place=gear.place)
            )
        if gear.profile.kind == "player":
            nodes = _every_lane(draft, gear, outputs=True)
            draft.sources.append(Source(gear.name, nodes, place=gear.place))


def _every_lane(draft: Draft, gear: Gear, *, outputs: bool) -> Lanes:
    jacks = [j.name for j in gear.profile.jacks.values() if j.is_output is outputs]
    return tuple(node for jack in jacks for node in lanes(draft, gear, jack))


def add_programs(draft: Draft) -> None:
    """Let computers play and take; note people and feeds left without."""
    played: set[str] = set()
    taken: set[str] = set()
    far = {name for name, part, _ in draft.people() if part.room.value == FAR_AWAY}
    near = {name for name, _, _ in draft.people()} - far
    feeds = {name for name, _, _ in whole(draft.part.feeds)}
    for gear in draft.gear.values():
        for name, jack, place in _programs(draft, gear, played=True):
            if _stranger(draft, name, near | feeds, "plays"):
                continue
            played.add(name.value)
            _play(draft, gear, name, jack, place, is_far=name.value in far)
    for gear in draft.gear.values():
        for name, jack, place in _programs(draft, gear, played=False):
            known = far | feeds | played
            if name.value not in known and not draft.incomplete:
                unknown_name(
                    draft.notes,
                    "unknown-name",
                    "the taker",
                    name.value,
                    name.place,
                    known,
                )
                continue
            taken.add(name.value)
            _take(draft, gear, name, jack, place)
    _left_out(draft, far, feeds, played, taken)


def _programs(
    draft: Draft, gear: Gear, *, played: bool
) -> list[tuple[Text, Jack, Place]]:
    programs = []
    for entry in gear.part.plays if played else gear.part.takes:
        if entry.part is None:
            continue
        jacks = {
            name: jack
            for name, jack in gear.profile.jacks.items()
            if jack.is_output is played
        }
        if entry.part.value not in jacks:
            unknown_name(
                draft.notes,
                "unknown-name",
                f"the {'output' if played else 'input'} of {gear.name}",
                entry.part.value,
                entry.part.place,
                jacks,
            )
            draft.incomplete = True
            continue
        programs.append((entry.name, jacks[entry.part.value], entry.name.place))
    return programs


def _stranger(draft: Draft, name: Text, others: set[str], key: str) -> bool:
    if name.value not in others:
        return False
    draft.notes.error(
        "not-a-program",
        f'"{name.value}" cannot stand under {key}:, since it is here or only listens',
        name.place,
        cure="a remote guest has room: far away; another name makes it a program",
    )
    return True


def _play(
    draft: Draft, gear: Gear, name: Text, jack: Jack, place: Place, *, is_far: bool
) -> None:
    target = lanes(draft, gear, jack.name)
    if is_far:
        delay = jack.delay_ms + _one_way_ms(draft, name.value)
        draft.graph.connect(
            mouth(draft, name.value), target, delay_ms=delay, place=place
        )
        return
    nodes = draft.graph.lanes(name.value, jack.lanes)
    draft.graph.connect(nodes, target, delay_ms=jack.delay_ms, place=place)
    if all(source.name != name.value for source in draft.sources):
        draft.sources.append(Source(name.value, nodes, place=place))


def _take(draft: Draft, gear: Gear, name: Text, jack: Jack, place: Place) -> None:
    source = lanes(draft, gear, jack.name)
    listener = next((x for x in draft.listeners if x.name == name.value), None)
    if listener is None:  # a program that plays what it takes
        target = draft.graph.known(name.value)
        draft.graph.connect(source, target, delay_ms=jack.delay_ms, place=place)
        return
    one_way = _one_way_ms(draft, name.value) if listener.person else 0.0
    draft.graph.connect(
        source, listener.nodes, delay_ms=jack.delay_ms + one_way, place=place
    )


def _near(draft: Draft, name: str, part: PersonPart, place: Place) -> Person:
    for key, said in (("round trip", part.round_trip), ("echo return loss", part.echo)):
        if said is not None:
            draft.notes.error(
                "key-out-of-place",
                f'{name}: "{key}" is for people who are far away',
                said.place,
                cure=f"leave it out, or write room: {FAR_AWAY}",
            )
    spot = (part.at[0].value, part.at[1].value) if part.at is not None else None
    return Person(name, part.room.value, place=place, spot_m=spot)


def _far(draft: Draft, name: str, part: PersonPart, place: Place) -> Person:
    if part.cap is not None:
        draft.notes.error(
            "key-out-of-place",
            f'{name}: "cap" is for people who are here',
            part.cap.place,
            cure="leave it out: how loud it is there is set there",
        )
    round_trip = part.round_trip.value if part.round_trip else ROUND_TRIP_MS
    loss = part.echo.value if part.echo else ECHO_RETURN_LOSS_DB
    for key, said, assumed in (
        ("round trip", part.round_trip, f"{ROUND_TRIP_MS:g} ms"),
        ("echo return loss", part.echo, f"{ECHO_RETURN_LOSS_DB:g} dB"),
    ):
        if said is None:
            draft.notes.advice(
                "assumed",
                f"{name}: no {key} is given, {assumed} is assumed",
                place,
                note="echo is judged by both",
                cure=f"measure it in a call, and add {key}: {assumed}",
            )
    draft.graph.connect(
        ears(draft, name),
        mouth(draft, name),
        gain_db=-loss - BOTH_EARS_DB,
        place=place,
    )
    return Person(name, None, round_trip, loss, place)


def _one_way_ms(draft: Draft, name: str) -> float:
    part = next(part for person, part, _ in draft.people() if person == name)
    return (part.round_trip.value if part.round_trip else ROUND_TRIP_MS) / 2.0


def _left_out(
    draft: Draft, far: set[str], feeds: set[str], played: set[str], taken: set[str]
) -> None:
    """Say which far people and feeds no computer plays or takes sound for."""
    if draft.incomplete:
        return
    for name, _, place in draft.people():
        if name in far and name not in played:
            _advise(draft, name, "plays", f"nobody here can hear {name}", place)
        if name in far and name not in taken:
            _advise(draft, name, "takes", f"{name} can hear nobody here", place)
    for name, _, place in whole(draft.part.feeds):
        if name in feeds and name not in taken:
            more = "".join(
                f"; or leave it out under feeds: and speak of {gear.name}, which "
                "listens by itself"
                for gear in draft.gear.values()
                if gear.profile.kind == "recorder"
            )
            _advise(draft, name, "takes", f"{name} gets nothing", place, more)


def _advise(
    draft: Draft, name: str, key: str, what: str, place: Place, more: str = ""
) -> None:
    draft.notes.advice(
        "not-connected",
        f"{what}: no computer {key} {name}",
        place,
        cure=f"add {key}: {{{name}: ...}} to the computer's gear{more}",
    )
