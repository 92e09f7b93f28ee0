"""The keys of a profile: the description of one type of gear."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.core.panning import PanLaw
from bridge.files.amounts import Amount, AmountAt, At
from bridge.files.kinds import LENGTH, LOSS, TIME
from bridge.files.parts import Part, maybe, needed, part, several
from bridge.files.schema_asking import ASKED_EVERY, SUBSCRIPTION, SubscriptionPart
from bridge.files.schema_controls import LevelPart, SettingPart
from bridge.files.schema_desk import BusPart, CrossPart, LevelsPart, StripPart
from bridge.files.schema_jacks import InsidePart, JackPart
from bridge.files.schema_lamps import LAMPS_ABOUT, LampPart
from bridge.files.schema_memories import MEMORIES, MemoryPart
from bridge.files.shapes import (
    CLASH,
    NOTHING,
    Choice,
    Entry,
    Items,
    Names,
    Said,
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
PATTERNS = (
    "omni",
    "subcardioid",
    "cardioid",
    "supercardioid",
    "hypercardioid",
    "figure-8",
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
