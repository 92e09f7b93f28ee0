"""The keys of rooms, and of whoever is in them, in a studio file."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import Amount, AmountAt, At, Two
from bridge.files.kinds import (
    AREA,
    LOSS,
    POSITION,
    REVERBERATION,
    SHARE,
    SOUND,
    TIME,
    VOLUME,
)
from bridge.files.parts import maybe, needed, part, several
from bridge.files.shapes import Entry, Names, Said, Words
from bridge.files.tree import Text


@part
class RoomPart:
    """A room."""

    place: Place
    volume: Said[float] | None = maybe("volume", Amount(VOLUME), "its air, in m3")
    reverberation: Said[float] | None = maybe(
        "reverberation",
        Amount(REVERBERATION),
        "the time in which sound dies away by 60 dB",
    )
    surfaces: tuple[Entry[At], ...] = several(
        "surfaces",
        Names(AmountAt(AREA, SHARE, needs_at=True)),
        "instead of reverberation: areas, with how much of the sound each absorbs",
    )


Spot = tuple[Said[float], Said[float]]
SPOT = Two(POSITION, "a place on the plan")


@part
class PersonPart:
    """A person."""

    place: Place
    room: Text = needed("room", Words(), 'the room, or "far away" for a remote guest')
    round_trip: Said[float] | None = maybe(
        "round trip", Amount(TIME), "of a far person: there and back again"
    )
    echo: Said[float] | None = maybe(
        "echo return loss",
        Amount(LOSS),
        "of a far person: how much weaker what they hear comes back",
    )
    cap: Said[float] | None = maybe(
        "cap",
        Amount(SOUND),
        "no source may be louder than this at their ears, in dB SPL",
    )
    at: Spot | None = maybe("at", SPOT, "where they are: x, y")


@part
class FeedPart:
    """A feed: it only listens."""

    place: Place
