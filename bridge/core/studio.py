"""The studio as the core sees it: names resolved, nothing left to look up.

Strategy: the file layer turns text into these values once; everything after it (the
model, the rules, the planner, the machine) reads them and never changes them. A
control is known by its full name ("desk: in 1 to monitor") wherever it is a key, and
shown by its `label` ("mic to monitor").
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from bridge.core.ceiling import Ceiling
from bridge.core.finding import Place
from bridge.core.lamp import Lamp
from bridge.core.recall import Recall
from bridge.core.wire import Key, Meaning, Message, Value

NOWHERE = ""
"""The position of a selector that has left one place and not yet reached the next."""


class Kind(Enum):
    """What sort of thing a control is."""

    SWITCH = "switch"
    SELECTOR = "selector"
    LEVEL = "level"


class Reach(Enum):
    """Who can set a control."""

    REMOTE = "remote"
    HAND = "hand"
    FIXED = "fixed"


ASK_AGAIN_S = 10.0
"""At rest, between two questions to one control. A hand whose notice was lost and
gear that died without a word are noticed this late; a desk of 100 controls is asked
10 times a second, 1 % of a 31 250 baud wire's 1000 messages."""


@dataclass(frozen=True, slots=True)
class Control:
    """One thing that changes the flow.

    values: every value it can be given; for a level the quietest, the loudest and
        each one that the studio uses, in rising order.
    at_power_up: the value its gear guarantees after power comes on, or None.
    messages: what to send for each value; empty for hand and fixed controls.
    toggles: one message turns it over, whatever it was; see `core.toggling`.
    told: what the gear says for each value, if that is not what is sent for it.
    rungs: levels, rising, by which it goes from one of its values to another, at most
        step_db apart; step_ms: the time between two of them; see `core.ramping`.
    ask: what to send to be told the present value; empty if the gear cannot answer.
    ask_every_ms: between two questions while nothing happens.
    settle_ms: after the last message, when the sound has surely followed.
    settle_to_ms: the same for single values that take their own time (a relay that
        is pulled, and one that falls); see `settles_in_ms`.
    hold_off_ms: how long an old message may still arrive (0 on a serial wire).
    gap: a selector that breaks before it makes passes NOWHERE.
    overlap: a selector that makes before it breaks has both positions for a moment.
    hand_words: for hand controls, what the person does, for each value.
    """

    name: str
    label: str
    gear: str
    kind: Kind
    values: tuple[Value, ...]
    reach: Reach = Reach.REMOTE
    at_power_up: Value | None = None
    at_rest: Value | None = None
    messages: Mapping[Value, tuple[Message, ...]] = field(default_factory=dict)
    ask: tuple[Message, ...] = ()
    settle_ms: float = 0.0
    hold_off_ms: float = 0.0
    gap: bool = False
    overlap: bool = False
    hand_words: Mapping[Value, str] = field(default_factory=dict)
    place: Place | None = None
    settle_to_ms: Mapping[Value, float] = field(default_factory=dict)
    toggles: bool = False
    ask_every_ms: float = 1000 * ASK_AGAIN_S
    told: Mapping[Value, tuple[Message, ...]] = field(default_factory=dict)
    rungs: tuple[float, ...] = ()
    step_db: float = 0.0
    step_ms: float = 0.0

    def said_for(self, value: Value) -> tuple[Message, ...]:
        """What its gear says when it has this value."""
        return (self.told if self.toggles or self.told else self.messages).get(
            value, ()
        )

    def settles_in_ms(self, value: Value) -> float:
        """How long after its message the sound has surely followed to this value."""
        return self.settle_to_ms.get(value, self.settle_ms)


@dataclass(frozen=True, slots=True)
class Gate:
    """How one control scales one edge.

    table: (value, amplitude factor) for each value; a value that is not listed
    (NOWHERE among them) lets nothing through. None: the control is a level, and the
    factor is that level.
    """

    control: str
    table: tuple[tuple[Value, float], ...] | None


@dataclass(frozen=True, slots=True)
class Node:
    """A point of the graph: one lane of a jack or bus, a mouth, an ear.

    name: unique ("desk.in 5/6 L"); jack: the same without the lane ("desk.in 5/6").
    """

    name: str
    jack: str


@dataclass(frozen=True, slots=True)
class Edge:
    """Sound flows from one node to another (indices into Graph.nodes)."""

    source: int
    target: int
    gain_db: float = 0.0
    delay_ms: float = 0.0
    gates: tuple[Gate, ...] = ()
    through_air: bool = False
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Graph:
    """All nodes and edges, gates still open or shut."""

    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]


class Transducer(Enum):
    """Gear where sound meets the air."""

    MICROPHONE = "microphone"
    SPEAKERS = "speakers"
    HEADPHONES = "headphones"


@dataclass(frozen=True, slots=True)
class AirGear:
    """A microphone, speakers or headphones: its nodes on the side of the air.

    critical_m: where, in its room, direct and reverberant sound are equal.
    """

    name: str
    kind: Transducer
    nodes: tuple[int, ...]
    room: str
    critical_m: float = float("inf")


class Scale(Enum):
    """What 0 dB (amplitude 1) means at a node."""

    LINE = "line"  # nominal level of the studio's line
    EAR = "ear"  # a sound pressure of 1 pascal, 94 dB SPL


@dataclass(frozen=True, slots=True)
class Source:
    """What makes sound: a mouth, or something that plays. Amplitude 1 is nominal."""

    name: str
    nodes: tuple[int, ...]
    person: str | None = None
    private: bool = False
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Listener:
    """Who or what hears: the two ears of a person, or a feed's two lanes.

    far: outside the studio (a feed, a remote person). cap_db: no source may be louder
    than this, in the listener's scale.
    """

    name: str
    nodes: tuple[int, ...]
    scale: Scale
    person: str | None = None
    far: bool = False
    cap_db: float | None = None
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Scene:
    """A named setting of some or all controls (by full control name).

    is_named: a scene of the studio; else a setting that nobody can ask for, and that
        is always allowed (where contacts are let go, what cures a breach).
    """

    name: str
    values: Mapping[str, Value]
    place: Place | None = None
    is_named: bool = True


class Demand(Enum):
    """The three sorts of sentence a studio file may hold."""

    NEEDS = "needs"
    NEVER = "never"
    KEEP = "keep"


@dataclass(frozen=True, slots=True)
class Sentence:
    """One demand of the file: `listener hears source`, or never hears it.

    scene: the scene in which it must hold, or None for always.
    level_db: at least (or, for never, at most) this, in the listener's scale;
        None takes the studio's limit for audible or silent.
    """

    demand: Demand
    listener: str
    source: str
    text: str
    scene: str | None = None
    level_db: float | None = None
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """The numbers the house rules are judged by; a studio may change each.

    stability_margin_db: common practice, Sound System Design Reference Manual ch. 4.
    own_voice_rating: the E-model's R (ITU-T G.107) below which the echo of one's own
        voice is not acceptable; 70 is the floor of "medium" in ITU-T G.109.
    match_db: how far speakers and headphones may differ at the ear in a crossing.
    strict_open_microphone: live microphone and live speakers are an error, not advice.
    audible_*: "hears" means at least this. silent_*: "never" means at most this.
    """

    stability_margin_db: float = 6.0
    own_voice_rating: float = 70.0
    match_db: float = 6.0
    strict_open_microphone: bool = False
    audible_line_db: float = -40.0
    audible_ear_db_spl: float = 40.0
    silent_line_db: float = -60.0
    silent_ear_db_spl: float = 20.0


@dataclass(frozen=True, slots=True)
class OwnLimit:
    """Why a studio has changed a limit, and where it says so."""

    reason: str
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Waiver:
    """A rule that this studio lives without, and why; shown in every report.

    about: the names that must all be among the breach's people; empty for any.
    """

    rule: str
    reason: str
    about: tuple[str, ...] = ()
    place: Place | None = None


class Gesture(Enum):
    """What a person does with a button."""

    TAP = "tap"
    HOLD = "hold"
    DOUBLE = "double"
    RELEASE = "release"


@dataclass(frozen=True, slots=True)
class Button:
    """A thing the person presses, and where each gesture leads.

    key: what its messages are about; a number of at least `down_from` is down.
    latching: every change of the contact is a press (it stays where it is pushed).
    inverted: a normally-closed contact: low is down.
    rounds: for each gesture the scenes it goes round.
    """

    name: str
    key: Key
    down_from: float
    rounds: Mapping[Gesture, tuple[str, ...]]
    latching: bool = False
    inverted: bool = False
    hold_ms: float = 600.0
    lockout_ms: float = 40.0
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Renewal:
    """What gear must be sent again and again, or it tells nothing. It sets nothing."""

    message: Message
    every_ms: float


@dataclass(frozen=True, slots=True)
class MidiDevice:
    """A device on a MIDI port, by its stable name ("virtual": a port of our own).

    A name that begins with a slash is a device file: /dev/snd/midiC1D0.
    """

    name: str
    device: str
    spacing_ms: float = 0.0
    nth: int | None = None
    renews: tuple[Renewal, ...] = ()


def is_file(device: str) -> bool:
    """Whether a device is named by its file."""
    return device.startswith("/")


@dataclass(frozen=True, slots=True)
class OscPeer:
    """A device that speaks OSC.

    listen: our own port that it sends to; 0 if it answers to where we asked from.
    over: "udp"; "tcp", with the length before each packet; or "tcp slip". Over TCP we
    connect to gear, and whatever only sends connects to us.
    """

    name: str
    host: str
    port: int
    listen: int = 0
    over: str = "udp"
    renews: tuple[Renewal, ...] = ()


@dataclass(frozen=True, slots=True)
class OutputLine:
    """A line we drive; released (not driven) is the safe position."""

    name: str
    chip: str
    line: int | str
    released_high: bool = False


@dataclass(frozen=True, slots=True)
class InputLine:
    """A line a button is wired to."""

    name: str
    chip: str
    line: int | str


@dataclass(frozen=True, slots=True)
class SerialLine:
    """A serial device with Modbus RTU on it: 8 data bits; parity none, even or odd."""

    device: str
    baud: int = 9600
    parity: str = "none"

    def __str__(self) -> str:
        return self.device


@dataclass(frozen=True, slots=True)
class TcpAddress:
    """Where Modbus TCP is spoken."""

    host: str
    port: int

    def __str__(self) -> str:
        return f"{self.host}:{self.port}"


@dataclass(frozen=True, slots=True)
class ModbusBoard:
    """A relay board on a Modbus line, which it may share with others.

    unit: its address on the line. coils: (first, count) of those that the studio
    uses, in order; more than one move together.
    """

    name: str
    line: SerialLine | TcpAddress
    unit: int = 1
    coils: tuple[tuple[int, int], ...] = ((0, 1),)


@dataclass(frozen=True, slots=True)
class Keyboard:
    """A pedal that is a keyboard, by its name or the path of its device file."""

    name: str
    device: str
    nth: int | None = None


Connection = MidiDevice | OscPeer | OutputLine | InputLine | ModbusBoard | Keyboard


@dataclass(frozen=True, slots=True)
class PanelPlace:
    """Where the web page is served: an address in numbers, and a port.

    names: what browsers may call it besides, as behind a reverse proxy.
    """

    host: str
    port: int
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who talks and listens. spot_m: where, if the file has a plan."""

    name: str
    room: str | None
    round_trip_ms: float = 0.0
    echo_return_loss_db: float = 0.0
    place: Place | None = None
    spot_m: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Studio:
    """Everything the studio file and its profiles say.

    helpers: values that controls may be given for a moment while crossing, if no
        direct order is safe (a listener's mute, a trim, a bridge).
    recalls: memories of gear, and what they bring back; see `core.recall`.
    safe_scene: where to be when nobody can say where to be; see `core.home`.
    mends_drift: what a hand on the desk breaks is cut at once, not only told.
    """

    name: str
    people: tuple[Person, ...]
    controls: Mapping[str, Control]
    graph: Graph
    sources: tuple[Source, ...]
    listeners: tuple[Listener, ...]
    scenes: Mapping[str, Scene]
    sentences: tuple[Sentence, ...] = ()
    buttons: tuple[Button, ...] = ()
    connections: tuple[Connection, ...] = ()
    meanings: Mapping[Key, tuple[Meaning, ...]] = field(default_factory=dict)
    limits: Limits = field(default_factory=Limits)
    own_limits: Mapping[str, OwnLimit] = field(default_factory=dict)
    waivers: tuple[Waiver, ...] = ()
    air_gear: tuple[AirGear, ...] = ()
    ceilings: tuple[Ceiling, ...] = ()
    start_scene: str | None = None
    safe_scene: str | None = None
    mends_drift: bool = False
    helpers: tuple[tuple[str, Value], ...] = ()
    recalls: tuple[Recall, ...] = ()
    door_port: int = 9720
    panel: PanelPlace | None = None
    lamps: tuple[Lamp, ...] = ()
