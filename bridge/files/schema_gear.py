"""The keys of a piece of gear in a studio file."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.core.panning import Side
from bridge.files.amounts import Amount, AmountAt, At, Whole
from bridge.files.kinds import ANGLE, LENGTH, SOUND
from bridge.files.parts import Part, maybe, needed, part, several
from bridge.files.schema_memories import STORED
from bridge.files.schema_modbus import ModbusPart
from bridge.files.schema_people import SPOT, Spot
from bridge.files.schema_wires import CHIP, MIDI, OVER
from bridge.files.shapes import CLASH, Choice, Entry, Line, Names, Said, Words
from bridge.files.tree import Text


@part
class GearPart:
    """A piece of gear."""

    place: Place
    profile: Text = needed("profile", Words(), "what type of gear it is")
    midi: Text | None = MIDI
    nth: Said[int] | None = maybe(
        "nth", Whole(1, 16, "nth"), "which of several MIDI devices of the same name"
    )
    osc: Text | None = maybe("osc", Words(), "its address and port: 192.168.4.20:9000")
    listen: Said[int] | None = maybe(
        "listen",
        Whole(1, 65535, "a port"),
        "our own UDP port, if it answers to a fixed one",
    )
    over: Said[str] | None = OVER
    line: Said[int | str] | None = maybe(
        "line", Line(), "the contact line that we drive"
    )
    chip: Text | None = CHIP
    released: Said[str] | None = maybe(
        "released",
        Choice(("low", "high")),
        "how the line stands when it is not driven; low if not said",
    )
    modbus: ModbusPart | None = maybe(
        "modbus", Part(ModbusPart, "a Modbus board"), "where its relay board is"
    )
    room: Text | None = maybe("room", Words(), "the room that it stands in")
    at: Spot | None = maybe("at", SPOT, "where a microphone or speakers stand: x, y")
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
