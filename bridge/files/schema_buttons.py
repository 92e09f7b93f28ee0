"""The keys of a button, and of where its messages come from, in a studio file."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.files.amounts import Amount, Whole
from bridge.files.kinds import TIME
from bridge.files.parts import Part, maybe, needed, part, several
from bridge.files.schema_wires import CHIP, MIDI, OVER
from bridge.files.shapes import Choice, Items, Line, Said, Words
from bridge.files.tree import Text

KEYBOARD_ABOUT = (
    "the name of a pedal that is a keyboard, or its file; no other hears it"
)
KEY_ABOUT = "the key that it presses, such as page down, B, F13"


@part
class SourcePart:
    """Where the messages of a button come from."""

    place: Place
    keyboard: Text | None = maybe("keyboard", Words(), KEYBOARD_ABOUT)
    key: Text | None = maybe("key", Words(), KEY_ABOUT)
    midi: Text | None = MIDI
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
    over: Said[str] | None = OVER
    line: Said[int | str] | None = maybe(
        "line", Line(), "the contact line it is wired to"
    )
    chip: Text | None = CHIP


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
