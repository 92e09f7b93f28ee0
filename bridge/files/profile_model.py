"""A profile as the studio's loader uses it: templates filled in, nothing looked up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bridge.core.connection import Renewal
from bridge.core.control import ASK_AGAIN_S, Kind, Reach
from bridge.core.finding import Place
from bridge.core.jacks import Jack as Facts
from bridge.core.lamp import Sign
from bridge.core.panning import PanLaw
from bridge.core.wire import Message, Value
from bridge.files.spoken import About, language_of

AIR = "air"
"""The point of a microphone or of speakers where sound meets the air."""

EARS = "ears"
"""The point of headphones where sound meets the ears."""


@dataclass(frozen=True, slots=True)
class Jack:
    """A socket. facts: what it is for cables; its name and gear are the profile's."""

    name: str
    is_output: bool
    lanes: int
    delay_ms: float
    facts: Facts
    place: Place


@dataclass(frozen=True, slots=True)
class Point:
    """Where a flow begins or ends: a jack or inside point, all of it or one lane."""

    name: str
    lane: int | None = None


@dataclass(frozen=True, slots=True)
class Gating:
    """How a control of the gear scales a flow (see core.graph.Gate)."""

    control: str
    table: tuple[tuple[Value, float], ...] | None


@dataclass(frozen=True, slots=True)
class Flow:
    """Sound goes from one point to another."""

    source: Point
    target: Point
    gates: tuple[Gating, ...]
    gain_db: float
    delay_ms: float
    place: Place


@dataclass(frozen=True, slots=True)
class ControlType:
    """A control of this type of gear; its messages have no port yet.

    numbers: for a level, the (level in dB, number) pairs of its scale.
    released: the value while a contact line is not driven, or a coil is off.
    gains_db: for `through`, the gain at each value; empty if there are none.
    ask, hears: what asks for its value, where `answers` does not say so, and what the
        answers are about, if not what sets it.
    settle_to_ms: for a relay, the time to each value; empty if all take settle_ms.
    step_db, step_ms: a level goes in steps of at most so many dB; 0 if it need not.
    toggles: its messages turn it over; told is what the gear says of its values.
    """

    name: str
    kind: Kind
    values: tuple[Value, ...]
    reach: Reach
    about: About | None
    numbers: tuple[tuple[Value, float], ...]
    messages: Mapping[Value, tuple[Message, ...]]
    at_power_up: Value | None
    released: Value | None
    settle_ms: float
    gap: bool
    overlap: bool
    hand_words: Mapping[Value, str]
    gains_db: Mapping[Value, float]
    life: int | None
    place: Place
    settle_to_ms: Mapping[Value, float] = field(default_factory=dict)
    step_db: float = 0.0
    step_ms: float = 0.0
    toggles: bool = False
    told: Mapping[Value, tuple[Message, ...]] = field(default_factory=dict)
    ask: tuple[Message, ...] = ()
    hears: About | None = None

    @property
    def languages(self) -> set[str]:
        """How its messages go: midi, osc, line, modbus; empty if it has none."""
        found = {
            language_of(message)
            for messages in self.messages.values()
            for message in messages
        }
        abouts = (about for about in (self.about, self.hears) if about is not None)
        return found | {about.transport for about in abouts}


@dataclass(frozen=True, slots=True)
class LampType:
    """A lamp of this type of gear; its messages have no port yet."""

    name: str
    messages: Mapping[Sign, tuple[Message, ...]]
    place: Place


@dataclass(frozen=True, slots=True)
class MemoryType:
    """A memory of this type of gear; its messages have no port yet.

    sets: what it always brings back, by control; None: the studio says so.
    leaves: the controls that it leaves as they are.
    """

    name: str
    messages: tuple[Message, ...]
    at_once: bool
    settle_ms: float
    sets: dict[str, Value] | None
    leaves: frozenset[str]
    place: Place


@dataclass(frozen=True, slots=True)
class Profile:
    """One type of gear.

    points: lanes of every point a flow may name, jacks among them.
    strips, buses: jack names of a desk's strips, and bus name -> output jack name.
    leak: (loss in dB, at distance in m) of headphones.
    """

    name: str
    kind: str
    speaks: str | None
    answers: bool
    tells: bool
    hold_off_ms: float
    spacing_ms: float
    jacks: Mapping[str, Jack]
    points: Mapping[str, int]
    flows: Sequence[Flow]
    controls: Mapping[str, ControlType]
    strips: Sequence[str] = ()
    buses: Mapping[str, str] = field(default_factory=dict)
    pattern: str | None = None
    leak: tuple[float, float] | None = None
    passive: bool = False
    lamps: Mapping[str, LampType] = field(default_factory=dict)
    memories: Sequence[MemoryType] = ()
    renews: Sequence[Renewal] = ()
    asked_every_ms: float = 1000 * ASK_AGAIN_S
    pan_law: PanLaw | None = None

    def questions(self, control: ControlType) -> tuple[Message, ...]:
        """What asks the gear for a control's value; empty if nothing can."""
        if control.ask or control.about is None or not self.answers:
            return control.ask
        question = control.about.question()
        return () if question is None else (question,)


def send_switch(strip: str, bus: str) -> str:
    """Return the name of the switch from a strip to a bus."""
    return f"{strip} to {bus}"


def send_level(strip: str, bus: str) -> str:
    """Return the name of the level of a strip in a bus."""
    return f"{strip} level in {bus}"


def own_level(name: str) -> str:
    """Return the name of the level of a strip or of a bus."""
    return f"{name} level"
