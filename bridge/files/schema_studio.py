"""The keys of a studio file."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import AmountAt, At, Whole
from bridge.files.kinds import ANGLE, LENGTH
from bridge.files.parts import Part, maybe, needed, part, several
from bridge.files.schema_buttons import ButtonPart
from bridge.files.schema_gear import GearPart
from bridge.files.schema_lamps import SHOWN, SHOWN_ABOUT
from bridge.files.schema_people import FeedPart, PersonPart, RoomPart
from bridge.files.shapes import (
    CLASH,
    NOTHING,
    Choice,
    Entry,
    Items,
    Later,
    Names,
    Raw,
    Said,
    Schema,
    Words,
)
from bridge.files.studio_limits import limits_schema
from bridge.files.tree import Text


def _scene_schema() -> Schema:
    value: Schema = {"type": "string"}
    return {
        "type": "object",
        "description": "controls with their values, buses with what is on them",
        "properties": {
            "from": {"type": "string", "description": "another scene, copied first"},
            "everything": {
                "enum": ["off"],
                "description": "all switches off, the rest as after power-up",
            },
            "hears": {
                "type": "object",
                "description": "listeners, each with all that they should hear",
                "additionalProperties": {
                    "anyOf": [
                        {"enum": ["everything"]},
                        {"type": "array", "items": {"type": "string"}},
                    ]
                },
            },
            "listening on": {
                "type": "string",
                "description": "the headphones or speakers that people here listen on",
            },
        },
        "additionalProperties": {
            "anyOf": [value, {"type": "array", "items": {"type": "string"}}]
        },
    }


@part
class ServicePart:
    """The service itself."""

    place: Place
    port: Said[int] | None = maybe(
        "port", Whole(1, 65535, "a port"), "its own door; 9720"
    )


@part
class PanelPart:
    """The web page."""

    place: Place
    at: Text | None = maybe(
        "at", Words("an address"), "where it is served; 127.0.0.1:9780 if not said"
    )
    names: tuple[Text, ...] = several(
        "names", Items(Words("a name")), "what a reverse proxy in front of it is called"
    )


_SENTENCES = Items(Words("a sentence"), what="a list of sentences")


@part
class StudioPart:
    """A studio."""

    place: Place
    studio: Text = needed("studio", Words(), "its name", instead=NOTHING)
    rooms: tuple[Entry[RoomPart], ...] = several(
        "rooms", Names(Part(RoomPart, "a room"), clash=CLASH), "how rooms sound"
    )
    people: tuple[Entry[PersonPart], ...] = several(
        "people",
        Names(Part(PersonPart, "a person"), clash=CLASH),
        "who talks and listens",
    )
    feeds: tuple[Entry[FeedPart], ...] = several(
        "feeds", Names(Part(FeedPart, "a feed"), clash=CLASH), "what only listens"
    )
    gear: tuple[Entry[GearPart], ...] = several(
        "gear", Names(Part(GearPart, "gear"), clash=CLASH), "every box"
    )
    patch: tuple[Text, ...] = several(
        "patch", Items(Words("a cable: GEAR.OUTPUT -> GEAR.INPUT")), "the cables"
    )
    distances: tuple[Entry[At], ...] = several(
        "distances",
        Names(AmountAt(LENGTH, ANGLE)),
        "how far apart things are: speakers to mic: 1.2 m at 130 deg",
    )
    readings: tuple[Entry[Text], ...] = several(
        "readings",
        Names(Words("a level"), clash=""),
        "what meters showed at line-up: music at host in aloud: 72 dB",
    )
    private: tuple[Text, ...] = several(
        "private", Items(Words("a source")), "sources that are not meant for air"
    )
    by_hand: Later | None = maybe(
        "by hand",
        Raw(_scene_schema),
        "hand controls as the show begins; written as a scene",
    )
    helpers: Later | None = maybe(
        "helpers",
        Raw(_scene_schema),
        "what may be set for a moment while crossing, when no direct order is safe",
    )
    scenes: tuple[Entry[Later], ...] = several(
        "scenes", Names(Raw(_scene_schema)), "named settings"
    )
    safe_scene: Text | None = maybe(
        "safe scene",
        Words("a scene"),
        "where to be when nobody can say: after a fault, and before stopping",
    )
    drift: Said[str] | None = maybe(
        "drift",
        Choice(("alarm", "mend")),
        "what is done when a hand on the desk breaks a rule; alarm if not said",
    )
    needs: tuple[Text, ...] = several(
        "needs", _SENTENCES, "who must hear whom: stream hears presenter always"
    )
    never: tuple[Text, ...] = several(
        "never", _SENTENCES, "who must not: stream never hears talkback"
    )
    keep: tuple[Text, ...] = several(
        "keep", _SENTENCES, "who must hear whom while a crossing is under way too"
    )
    buttons: tuple[Entry[ButtonPart], ...] = several(
        "buttons", Names(Part(ButtonPart, "a button"), clash=CLASH), "what one presses"
    )
    lamps: tuple[Entry[tuple[Text, ...]], ...] = several("lamps", SHOWN, SHOWN_ABOUT)
    limits: Later | None = maybe(
        "limits", Raw(limits_schema), "changed limits, each with its reason"
    )
    lives_without: tuple[Text, ...] = several(
        "lives without",
        Items(Words("a rule: howl because ...")),
        "house rules that do not count here, each with its reason",
    )
    service: ServicePart | None = maybe(
        "service", Part(ServicePart, "the service"), "the service itself"
    )
    panel: PanelPart | None = maybe(
        "panel", Part(PanelPart, "the panel"), "a web page to see and press it on"
    )
