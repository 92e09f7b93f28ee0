"""The keys of a profile: the description of one type of gear."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.core.panning import PanLaw
from bridge.files.amounts import Amount, AmountAt, At, Whole
from bridge.files.parts import Part, maybe, needed, part, several
from bridge.files.quantity import IMPEDANCE, LENGTH, LINE_LEVEL, LOSS, TIME
from bridge.files.schema_asking import (
    ASK,
    ASKED_EVERY,
    SUBSCRIPTION,
    TOLD_AS,
    SubscriptionPart,
)
from bridge.files.schema_cells import cells
from bridge.files.schema_lamps import LAMPS_ABOUT, LampPart
from bridge.files.schema_memories import MEMORIES, MemoryPart
from bridge.files.schema_steps import STEPS, StepsPart
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
    TrueOrFalse,
    Words,
)
from bridge.files.tree import Text

KINDS = (
    "desk",
    "computer",
    "microphone",
    "speakers",
    "headphones",
    "headphone amplifier",
    "changeover",
    "player",
    "recorder",
    "other",
)
CONNECTORS = (
    "XLR",
    "combo",
    "6.3 mm TRS",
    "6.3 mm TS",
    "3.5 mm TRS",
    "RCA",
    "USB",
    "optical",
    "network",
    "speaker terminals",
    "fixed cable",
)
PLUGS = ("XLR male", "XLR female", "6.3 mm TRS", "6.3 mm TS", "3.5 mm TRS", "RCA")
PHANTOM = ("none", "switched", "always", "needs", "bears", "harmed")
PATTERNS = (
    "omni",
    "subcardioid",
    "cardioid",
    "supercardioid",
    "hypercardioid",
    "figure-8",
)


def _words_for_values() -> Schema:
    return {"type": "object", "additionalProperties": {"type": "string"}}


def _levels_for_values() -> Schema:
    return {"type": "object", "additionalProperties": {"type": "string"}}


@part
class SocketPart:
    """What a socket is beyond its name, level and connector."""

    place: Place
    sockets: Said[int] | None = maybe(
        "sockets",
        Whole(1, 2, "sockets"),
        "for 2 lanes: 1 for a stereo plug, 2 for one plug each; not said: 1 for "
        "headphones, digital and 3.5 mm TRS, else 2",
    )
    balanced: Said[bool] | None = maybe(
        "balanced",
        TrueOrFalse(),
        "not said: true for mic and line on XLR, combo and 6.3 mm TRS, one lane a "
        "plug; else false",
    )
    plug: Said[str] | None = maybe(
        "plug",
        Choice(PLUGS),
        "what is at the end of a fixed cable",
    )
    most: Said[float] | None = maybe(
        "most",
        Amount(LINE_LEVEL),
        "the loudest before it clips: +22 dBu; a digital one is full at 0 dBFS anyway",
    )
    impedance: Said[float] | None = maybe(
        "impedance",
        Amount(IMPEDANCE),
        "of an output its own, of an input the load that it is: 10 kohm",
    )
    least_load: Said[float] | None = maybe(
        "least load",
        Amount(IMPEDANCE),
        "the smallest load that a headphone output can drive: 16 ohm",
    )
    phantom: Said[str] | None = maybe(
        "phantom",
        Choice(PHANTOM),
        "an input gives none, switched or always; an output needs, bears or is "
        "harmed; not said: none, and for outputs bears (mic) or harmed",
    )


@part
class JackPart(SocketPart):
    """A socket of gear."""

    direction: Said[str] = needed(
        "is", Choice(("input", "output")), "which way sound goes: input or output"
    )
    lanes: Said[int] = needed("lanes", Whole(1, 2, "lanes"), "1 for mono, 2 for stereo")
    connector: Said[str] = needed("connector", Choice(CONNECTORS), "what fits in")
    level: Text = needed(
        "level",
        Words("a nominal level: mic, headphones, digital, or a level such as +4 dBu"),
        "the nominal level: mic, headphones, speaker, digital, or a level such as "
        "+4 dBu, -10 dBV, or (digital, lined up) -18 dBFS",
    )
    delay: Said[float] | None = maybe(
        "delay", Amount(TIME), "how much later sound is behind this jack"
    )


@part
class InsidePart:
    """A point inside gear that flows can name."""

    place: Place
    lanes: Said[int] = needed("lanes", Whole(1, 2, "lanes"), "1 for mono, 2 for stereo")


@part
class StripPart(SocketPart):
    """A strip of a desk: an input jack with a number that messages can use."""

    number: Said[int] = needed(
        "number", Whole(0, 127, "a number"), "what {strip} stands for in messages"
    )
    lanes: Said[int] = needed("lanes", Whole(1, 2, "lanes"), "1 for mono, 2 for stereo")
    connector: Said[str] = needed("connector", Choice(CONNECTORS), "what fits in")
    level: Text = needed("level", Words(), "the nominal level, as for a jack")


@part
class BusPart(SocketPart):
    """A bus of a desk, with the output jack it goes to."""

    number: Said[int] = needed(
        "number", Whole(0, 127, "a number"), "what {bus} stands for in messages"
    )
    lanes: Said[int] = needed("lanes", Whole(1, 2, "lanes"), "1 for mono, 2 for stereo")
    out: Text = needed("out", Words(), "the name of its output jack")
    connector: Said[str] = needed("connector", Choice(CONNECTORS), "what fits in")
    level: Text = needed("level", Words(), "the nominal level, as for a jack")


@part
class SettingPart:
    """A switch or a selector."""

    place: Place
    message: Text | None = maybe(
        "message", Words(), "what its messages are about; the number is in values"
    )
    values: Later = needed(
        "values",
        Raw(cells),
        "each value with the number its message carries, or with whole messages",
    )
    toggle: Text | None = maybe(
        "toggle",
        Words(),
        "the one message that turns it over, whatever it was; message: is then what "
        'the gear says, and values without it are {off: "", on: ""}',
    )
    gains: Later | None = maybe(
        "gains", Raw(_levels_for_values), "for `through`: the gain at each value"
    )
    by_hand: Later | None = maybe(
        "by hand", Raw(_words_for_values), "what a person does for each value"
    )
    fixed: Text | None = maybe("fixed", Words(), "the one value that it always has")
    at_power_up: Text | None = maybe(
        "at power-up", Words(), "the value that it surely has when power comes on"
    )
    moves: Said[str] | None = maybe(
        "moves",
        Choice(("at once", "break before make", "make before break")),
        "what a selector does on its way",
    )
    settle: Said[float] | None = maybe(
        "settle", Amount(TIME), "when the sound has surely followed"
    )
    ask: Text | None = ASK
    told_as: Text | None = TOLD_AS
    operate: Said[float] | None = maybe(
        "operate", Amount(TIME), "for a relay: how long it takes when pulled, at most"
    )
    release: Said[float] | None = maybe(
        "release", Amount(TIME), "for a relay: how long it takes to fall, at most"
    )
    bounce: Said[float] | None = maybe(
        "bounce", Amount(TIME), "for a relay: how long its contacts bounce after that"
    )
    life: Said[int] | None = maybe(
        "life", Whole(1, 999_999_999, "life"), "how many operations it is rated for"
    )


@part
class LevelPart:
    """A level."""

    place: Place
    message: Text | None = maybe("message", Words(), "what its messages are about")
    scale: Later = needed(
        "scale",
        Raw(cells),
        "levels with the number each has in a message; straight lines between",
    )
    steps: StepsPart | None = STEPS
    by_hand: Text | None = maybe("by hand", Words(), "what a person does")
    at_power_up: Text | None = maybe(
        "at power-up", Words(), "the level that it surely has when power comes on"
    )
    settle: Said[float] | None = maybe(
        "settle", Amount(TIME), "when the sound has surely followed"
    )
    ask: Text | None = ASK
    told_as: Text | None = TOLD_AS


@part
class CrossPart:
    """What a desk has for each strip, bus, or pair of both."""

    place: Place
    switch: SettingPart | None = maybe(
        "switch", Part(SettingPart, "a switch"), "a switch for each"
    )
    level: LevelPart | None = maybe(
        "level", Part(LevelPart, "a level"), "a level for each"
    )


@part
class LevelsPart:
    """What a desk has for each strip, or for each bus."""

    place: Place
    level: LevelPart | None = maybe(
        "level", Part(LevelPart, "a level"), "a level for each"
    )


@part
class ProfilePart:
    """A profile."""

    place: Place
    profile: Text = needed(
        "profile", Words(), "its name, the same as the file's", instead=NOTHING
    )
    kind: Said[str] = needed(
        "kind",
        Choice(KINDS),
        "what sort of gear it is",
        instead=Said("other", NOTHING.place),
    )
    about: Text = needed(
        "about", Words(), "one sentence that says what it is", instead=NOTHING
    )
    speaks: Said[str] | None = maybe(
        "speaks",
        Choice(("midi", "osc", "line", "modbus")),
        "how its remote controls are set",
    )
    answers: Said[bool] | None = maybe(
        "answers",
        TrueOrFalse(),
        "whether an OSC address without a number is answered with the present one",
    )
    tells: Said[bool] | None = maybe(
        "tells", TrueOrFalse(), "whether it says so when a control is moved by hand"
    )
    hold_off: Said[float] | None = maybe(
        "hold-off",
        Amount(TIME),
        "how long an old message may still arrive (osc and modbus 50 ms, else 0 ms)",
    )
    subscription: SubscriptionPart | None = SUBSCRIPTION
    asked_every: Said[float] | None = ASKED_EVERY
    spacing: Said[float] | None = maybe(
        "spacing", Amount(TIME), "the least time between two messages"
    )
    passive: Said[bool] | None = maybe(
        "passive",
        TrueOrFalse(),
        "true if it has no electronics: cables and relays, one end feels the other",
    )
    jacks: tuple[Entry[JackPart], ...] = several(
        "jacks", Names(Part(JackPart, "a jack"), clash=CLASH), "its sockets"
    )
    inside: tuple[Entry[InsidePart], ...] = several(
        "inside",
        Names(Part(InsidePart, "a point inside"), clash=CLASH),
        "points inside that flows can name",
    )
    flows: tuple[Text, ...] = several(
        "flows", Items(Words("a flow: FROM -> TO ...")), "what flows inside"
    )
    strips: tuple[Entry[StripPart], ...] = several(
        "strips", Names(Part(StripPart, "a strip"), clash=CLASH), "a desk's inputs"
    )
    buses: tuple[Entry[BusPart], ...] = several(
        "buses", Names(Part(BusPart, "a bus"), clash=CLASH), "a desk's buses"
    )
    pan_law: Said[str] | None = maybe(
        "pan law",
        Choice(tuple(law.value for law in PanLaw)),
        "how much a strip of one lane in the centre loses on each side of a stereo bus",
    )
    each_cross: CrossPart | None = maybe(
        "each strip to each bus",
        Part(CrossPart, "each strip to each bus"),
        "what there is for every pair; {strip} and {bus} are their numbers",
    )
    each_strip: LevelsPart | None = maybe(
        "each strip", Part(LevelsPart, "each strip"), "what there is for every strip"
    )
    each_bus: LevelsPart | None = maybe(
        "each bus", Part(LevelsPart, "each bus"), "what there is for every bus"
    )
    switches: tuple[Entry[SettingPart], ...] = several(
        "switches", Names(Part(SettingPart, "a switch"), clash=CLASH), "on and off"
    )
    selectors: tuple[Entry[SettingPart], ...] = several(
        "selectors",
        Names(Part(SettingPart, "a selector"), clash=CLASH),
        "one of several",
    )
    levels: tuple[Entry[LevelPart], ...] = several(
        "levels", Names(Part(LevelPart, "a level"), clash=CLASH), "so many dB"
    )
    lamps: tuple[Entry[LampPart], ...] = several(
        "lamps", Names(Part(LampPart, "a lamp"), clash=CLASH), LAMPS_ABOUT
    )
    memories: tuple[Entry[MemoryPart], ...] = MEMORIES
    pattern: Said[str] | None = maybe(
        "pattern", Choice(PATTERNS), "a microphone's polar pattern"
    )
    leak: At | None = maybe(
        "leak loss",
        AmountAt(LOSS, LENGTH, needs_at=True),
        "how much weaker than at the ear sound is outside headphones: 30 dB at 0.1 m",
    )
