"""A small studio with a judge of its own, for whoever needs one without a file.

Its rules are of the simplest kind that is monotone: never all of these together. The
never-rules are two: the microphone in the monitor while the speakers are on howls, and
a guest on the call while talkback is open hears what is not meant for them.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from bridge.core.belief import Belief
from bridge.core.button import Button, Gesture
from bridge.core.connection import MidiDevice, OscPeer, OutputLine
from bridge.core.control import Control, Kind, Reach, Scene
from bridge.core.crossing import Crossing, Refusal, loudness_of, plan
from bridge.core.finding import Finding
from bridge.core.graph import Edge, Gate, Graph, Node
from bridge.core.guard import Judge
from bridge.core.plans import no_way
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Key, Meaning, Midi, Osc, Value

LIFE_MS = 50.0
"""How long a packet may live on the fake desk's network."""

PEDAL: Key = ("pedal", "midi", b"\xb0\x40")


@dataclass(frozen=True)
class RuleJudge:
    """Never all of a rule's pairs together; keep at least one of a keep's pairs."""

    nevers: Mapping[str, tuple[tuple[str, Value], ...]]
    keeps: Mapping[str, tuple[tuple[str, Value], ...]] = field(default_factory=dict)

    def nevers_broken(self, belief: Belief) -> Mapping[str, float]:
        return {
            rule: 1.0
            for rule, pairs in self.nevers.items()
            if all(value in belief[control] for control, value in pairs)
        }

    def keeps_broken(self, belief: Belief) -> Mapping[str, float]:
        return {
            rule: 1.0
            for rule, pairs in self.keeps.items()
            if not any(belief[control] == {value} for control, value in pairs)
        }


JUDGE = RuleJudge(
    {
        "howl": (("mic", True), ("relay", "pulled")),
        "not-meant-for-air: guest": (("guest", True), ("talk", True)),
    }
)


def osc_switch(name: str, *, settle_ms: float = 5.0) -> Control:
    """A switch of a desk that answers, on a network that loses and delays."""
    return Control(
        name=name,
        label=f"{name} switch",
        gear="desk",
        kind=Kind.SWITCH,
        values=(False, True),
        messages={
            False: (Osc("desk", f"/{name}", (0.0,)),),
            True: (Osc("desk", f"/{name}", (1.0,)),),
        },
        ask=(Osc("desk", f"/{name}"),),
        settle_ms=settle_ms,
        hold_off_ms=LIFE_MS,
    )


RELAY = Control(
    name="relay",
    label="changeover",
    gear="changeover",
    kind=Kind.SELECTOR,
    values=("rest", "pulled"),
    at_power_up="rest",
    at_rest="rest",
    messages={
        "rest": (Contact("relay", high=False),),
        "pulled": (Contact("relay", high=True),),
    },
    settle_ms=8.0,
    gap=True,
)

TRIM = Control(
    name="trim",
    label="monitor trim",
    gear="strip",
    kind=Kind.LEVEL,
    values=(-20.0, -10.0, 0.0),
    messages={
        -20.0: (Midi("strip", b"\xb0\x07\x14"),),
        -10.0: (Midi("strip", b"\xb0\x07\x28"),),
        0.0: (Midi("strip", b"\xb0\x07\x3c"),),
    },
    settle_ms=20.0,
)

DIM = Control(
    name="dim",
    label="dim",
    gear="strip",
    kind=Kind.SWITCH,
    values=(False, True),
    messages={
        False: (Midi("strip", b"\xb0\x50\x00"),),
        True: (Midi("strip", b"\xb0\x50\x7f"),),
    },
    settle_ms=20.0,
)

PAD = Control(
    name="pad",
    label="pad",
    gear="preamp",
    kind=Kind.SWITCH,
    values=(False, True),
    reach=Reach.HAND,
    at_power_up=False,
    hand_words={True: "press the pad button in", False: "let the pad button out"},
)

SCENES: Mapping[str, Mapping[str, Value]] = {
    "quiet": {
        "mic": False,
        "guest": False,
        "talk": False,
        "relay": "rest",
        "trim": -20.0,
        "dim": True,
    },
    "phones": {"mic": True, "relay": "rest", "trim": -10.0, "dim": False},
    "speakers": {"mic": False, "relay": "pulled", "trim": 0.0, "dim": False},
    "call": {"mic": True, "relay": "rest", "guest": True, "talk": False},
    "talkback": {"guest": False, "talk": True},
    "bad": {"mic": True, "relay": "pulled"},
    "padded": {"pad": True, "dim": True},
}


def _edges(controls: Iterable[Control]) -> tuple[Edge, ...]:
    edges = []
    for control in controls:
        if control.kind is Kind.LEVEL:
            edges.append(Edge(0, 1, gates=(Gate(control.name, None),)))
            continue
        for value in control.values:
            if value is not False:
                gate = Gate(control.name, ((value, 1.0),))
                edges.append(Edge(0, 1, gates=(gate,)))
    return tuple(edges)


def studio(
    start: str | None = None,
    controls: Iterable[Control] | None = None,
    scenes: Mapping[str, Mapping[str, Value]] = SCENES,
    pedal: Mapping[Gesture, tuple[str, ...]] | None = None,
    spacing_ms: float = 2.0,
) -> Studio:
    """The fake studio; a scene keeps only the controls that there are."""
    desk = (osc_switch("mic"), osc_switch("guest"), osc_switch("talk"))
    chosen = (*desk, RELAY, TRIM, DIM, PAD) if controls is None else tuple(controls)
    named = {control.name: control for control in chosen}
    tap = {Gesture.TAP: ("phones", "speakers"), Gesture.HOLD: ("call",)}
    return Studio(
        name="a fake studio",
        people=(),
        controls=named,
        graph=Graph((Node("in", "in"), Node("out", "out")), _edges(chosen)),
        sources=(),
        listeners=(),
        scenes={
            name: Scene(name, {n: v for n, v in values.items() if n in named})
            for name, values in scenes.items()
        },
        buttons=(
            Button("pedal", PEDAL, 64.0, tap if pedal is None else pedal),
            Button(
                "pads", ("pads", "line", ""), 1.0, {Gesture.TAP: ("call", "talkback")}
            ),
        ),
        connections=(
            OscPeer("desk", "127.0.0.1", 9),
            MidiDevice("strip", "fake strip", spacing_ms=spacing_ms),
            OutputLine("relay", "fake chip", 17),
            MidiDevice("pedal", "fake pedal"),
        ),
        meanings={
            ("desk", "osc", f"/{control.name}"): (
                Meaning(control.name, ((0.0, False), (1.0, True))),
            )
            for control in chosen
            if control.gear == "desk"
        },
        start_scene=start,
    )


def navigator(
    of: Studio, judge: Judge
) -> Callable[[Belief, Scene], Crossing | Finding]:
    """The real planner, without the house rules that need a real graph."""
    loudness = loudness_of(of.graph)

    def planned(belief: Belief, scene: Scene) -> Crossing | Finding:
        found = plan(judge, of.controls, belief, scene.values, loudness=loudness)
        return no_way(found, scene) if isinstance(found, Refusal) else found

    return planned
