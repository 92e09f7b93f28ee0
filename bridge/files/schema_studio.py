"""The keys of a studio file."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.core.panning import Side
from bridge.files.amounts import Amount, AmountAt, At, Two, Whole
from bridge.files.parts import Part, maybe, needed, part, several
from bridge.files.quantity import (
    ANGLE,
    AREA,
    LENGTH,
    LOSS,
    POSITION,
    REVERBERATION,
    SHARE,
    SOUND,
    TIME,
    VOLUME,
)
from bridge.files.schema_lamps import SHOWN, SHOWN_ABOUT
from bridge.files.schema_memories import STORED
from bridge.files.schema_modbus import ModbusPart
from bridge.files.shapes import (
    CLASH,
    NOTHING,
    Choice,
    Entry,
    Items,
    Later,
    Line,
    Names,
    Raw,
    Said,
    Schema,
    Words,
)
from bridge.files.studio_limits import limits_schema
from bridge.files.tree import Text

MIDI_ABOUT = "the name of its MIDI device, or its file: /dev/snd/midiC1D0"
KEYBOARD_ABOUT = (
    "the name of a pedal that is a keyboard, or its file; no other hears it"
)
KEY_ABOUT = "the key that it presses, such as page down, B, F13"
OVER = ("udp", "tcp", "tcp slip")
OVER_ABOUT = (
    "how its OSC goes: udp if not said, tcp with the length before each packet "
    "(OSC 1.0), or tcp slip (OSC 1.1)"
)


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
_SPOT = Two(POSITION, "a place on the plan")


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
    at: Spot | None = maybe("at", _SPOT, "where they are: x, y")


@part
class FeedPart:
    """A feed: it only listens."""

    place: Place


@part
class GearPart:
    """A piece of gear."""

    place: Place
    profile: Text = needed("profile", Words(), "what type of gear it is")
    midi: Text | None = maybe("midi", Words(), MIDI_ABOUT)
    nth: Said[int] | None = maybe(
        "nth", Whole(1, 16, "nth"), "which of several MIDI devices of the same name"
    )
    osc: Text | None = maybe("osc", Words(), "its address and port: 192.168.4.20:9000")
    listen: Said[int] | None = maybe(
        "listen",
        Whole(1, 65535, "a port"),
        "our own UDP port, if it answers to a fixed one",
    )
    over: Said[str] | None = maybe("over", Choice(OVER), OVER_ABOUT)
    line: Said[int | str] | None = maybe(
        "line", Line(), "the contact line that we drive"
    )
    chip: Text | None = maybe(
        "chip", Words(), "the chip of the line; gpiochip0 if not said"
    )
    released: Said[str] | None = maybe(
        "released",
        Choice(("low", "high")),
        "how the line stands when it is not driven; low if not said",
    )
    modbus: ModbusPart | None = maybe(
        "modbus", Part(ModbusPart, "a Modbus board"), "where its relay board is"
    )
    room: Text | None = maybe("room", Words(), "the room that it stands in")
    at: Spot | None = maybe("at", _SPOT, "where a microphone or speakers stand: x, y")
    facing: Said[float] | None = maybe(
        "facing",
        Amount(ANGLE),
        "where a microphone looks: 0 deg is along x; if not said, at its speaker",
    )
    speaker: Text | None = maybe(
        "spoken into by", Words(), "who talks into a microphone"
    )
    distance: Said[float] | None = maybe(
        "distance", Amount(LENGTH), "from that mouth to the microphone"
    )
    listening_level: At | None = maybe(
        "listening level",
        AmountAt(SOUND, LENGTH),
        "how loud speech is, by a meter: speakers 74 dB at 1 m, headphones 74 dB",
    )
    wearer: Text | None = maybe("worn by", Words(), "whose headphones these are")
    pan: tuple[Entry[Said[str]], ...] = several(
        "pan",
        Names(Choice(tuple(side.value for side in Side)), clash=CLASH),
        "of a desk: where its strips of one lane stand; centre if not said",
    )
    plays: tuple[Entry[Text], ...] = several(
        "plays",
        Names(Words(), clash=CLASH),
        "what a computer plays, each on which pair",
    )
    takes: tuple[Entry[Text], ...] = several(
        "takes",
        Names(Words(), clash=CLASH),
        "who takes sound from it, each at which jack",
    )
    memories: tuple[Entry[Text], ...] = STORED


@part
class SourcePart:
    """Where the messages of a button come from."""

    place: Place
    keyboard: Text | None = maybe("keyboard", Words(), KEYBOARD_ABOUT)
    key: Text | None = maybe("key", Words(), KEY_ABOUT)
    midi: Text | None = maybe("midi", Words(), MIDI_ABOUT)
    nth: Said[int] | None = maybe(
        "nth", Whole(1, 16, "nth"), "which of several devices of the same name"
    )
    control: Said[int] | None = maybe(
        "control", Whole(0, 119, "a control"), "a control change"
    )
    note: Said[int] | None = maybe("note", Whole(0, 127, "a note"), "a note")
    program: Said[int] | None = maybe(
        "program", Whole(0, 127, "a program"), "a program change, counted from 0"
    )
    message: Text | None = maybe(
        "message", Words(), "one whole MIDI message, as in a profile: sysex 7D 01 05"
    )
    channel: Said[int] | None = maybe(
        "channel", Whole(1, 16, "a channel"), "the MIDI channel; 1 if not said"
    )
    osc: Text | None = maybe("osc", Words(), "the OSC address, such as /pedal")
    sender: Text | None = maybe("sender", Words(), "the network address that sends it")
    listen: Said[int] | None = maybe(
        "listen", Whole(1, 65535, "a port"), "the port of ours that it is sent to"
    )
    over: Said[str] | None = maybe("over", Choice(OVER), OVER_ABOUT)
    line: Said[int | str] | None = maybe(
        "line", Line(), "the contact line it is wired to"
    )
    chip: Text | None = maybe(
        "chip", Words(), "the chip of the line; gpiochip0 if not said"
    )


@part
class ButtonPart:
    """A button."""

    place: Place
    source: SourcePart = needed(
        "from", Part(SourcePart, "where a button's messages come from"), "its messages"
    )
    contact: Said[str] | None = maybe(
        "contact",
        Choice(("momentary", "latching", "normally closed")),
        "how its contact works; momentary if not said",
    )
    tap: tuple[Text, ...] = several(
        "tap", Items(Words(), alone=True), "goes round these"
    )
    hold: tuple[Text, ...] = several("hold", Items(Words(), alone=True), "held down")
    double: tuple[Text, ...] = several("double", Items(Words(), alone=True), "two taps")
    release: tuple[Text, ...] = several(
        "release",
        Items(Words(), alone=True),
        "let go: after a hold, if there is one, else after a tap",
    )
    hold_after: Said[float] | None = maybe(
        "hold after", Amount(TIME), "when a press becomes a hold; 600 ms"
    )
    lockout: Said[float] | None = maybe(
        "lockout", Amount(TIME), "for how long bounces are ignored; 40 ms"
    )


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
