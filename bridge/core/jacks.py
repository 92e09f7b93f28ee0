"""Jacks and cables as things in the hand: what fits, what feeds what, what loads what.

Strategy: `core.graph` says where sound goes; this says with which plugs,
voltages and loads. Gear with electronics in it ends a connection. Passive gear (a
split cable, a relay) does not: what is plugged in at one end feels what is at the
other, so every question about voltage or load looks through it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import Enum
from itertools import product

from bridge.core.finding import Place
from bridge.core.panning import Pan
from bridge.core.wire import Value

MOST_POSITIONS = 64
"""Positions of passive gear tried one by one; beyond this all are taken as open."""


CABLE = "cable"
"""The rule of a finding about cables until the table of rules has named it."""


class Level(Enum):
    """The sort of signal at a jack."""

    MIC = "mic"
    LINE = "line"
    HEADPHONES = "headphones"
    SPEAKER = "speaker"
    DIGITAL = "digital"


class Phantom(Enum):
    """What a jack has to do with phantom power (48 V on both legs).

    Inputs give none, can be switched on, or always give it; outputs need it, bear it,
    or are harmed by it.
    """

    NONE = "none"
    SWITCHED = "switched"
    ALWAYS = "always"
    NEEDS = "needs"
    BEARS = "bears"
    HARMED = "harmed"


class Wiring(Enum):
    """How lanes sit on the contacts of one socket, or of one cable."""

    BALANCED = "balanced"
    UNBALANCED = "unbalanced"
    STEREO = "stereo"  # two unbalanced lanes on one plug
    DIGITAL = "digital"
    SPEAKER = "speaker wire"


@dataclass(frozen=True, slots=True)
class Jack:
    """One named jack of gear.

    name: "desk.in 5/6"; gear: "desk". connector: what its socket takes; for gear with
    a cable of its own "fixed cable", and `plug` is what is at the end of that.
    sockets: over how many its lanes are spread. nominal_db: in dBu for a line, in
    dBFS for a digital jack, if known. most_db: the loudest it takes, in dBu.
    impedance_ohm: of an output its own, of an input the load that it is.
    least_load_ohm: the smallest load that a headphone or speaker output can drive.
    level_words: the level as its profile says it.
    """

    name: str
    gear: str
    is_output: bool
    lanes: int
    sockets: int
    connector: str
    level: Level
    level_words: str
    balanced: bool
    plug: str = ""
    nominal_db: float | None = None
    most_db: float | None = None
    impedance_ohm: float | None = None
    least_load_ohm: float | None = None
    phantom: Phantom = Phantom.NONE

    @property
    def wiring(self) -> Wiring:
        """How a lane (or both) sits in one of its sockets."""
        if self.level is Level.DIGITAL:
            return Wiring.DIGITAL
        if self.level is Level.SPEAKER:
            return Wiring.SPEAKER
        if self.lanes > self.sockets:
            return Wiring.STEREO
        return Wiring.BALANCED if self.balanced else Wiring.UNBALANCED

    @property
    def end(self) -> str:
        """The connector that meets the other side: its socket, or its own plug."""
        return self.plug if self.connector == "fixed cable" else self.connector


@dataclass(frozen=True, slots=True)
class Cable:
    """One line of the patch. A lane of None is every lane of that jack."""

    source: str
    target: str
    source_lane: int | None = None
    target_lane: int | None = None
    length_m: float | None = None
    place: Place | None = None


Condition = Mapping[str, frozenset[Value]]
"""For some controls the values at which something is open."""


@dataclass(frozen=True, slots=True)
class Way:
    """Sound can go from one point of gear to another (full names), at a condition."""

    source: str
    target: str
    condition: Condition = field(default_factory=dict)
    source_lane: int | None = None
    target_lane: int | None = None


@dataclass(frozen=True, slots=True)
class Box:
    """One piece of gear: its kind, whether it is passive, and the ways inside."""

    name: str
    kind: str
    passive: bool = False
    ways: tuple[Way, ...] = ()


@dataclass(frozen=True, slots=True)
class Patch:
    """All jacks, boxes and cables. labels: how a control is shown.

    pans: by jack, where the pan knobs of strips of one lane stand, if they have any.
    """

    jacks: Mapping[str, Jack]
    boxes: Mapping[str, Box]
    cables: tuple[Cable, ...]
    labels: Mapping[str, str] = field(default_factory=dict)
    pans: Mapping[str, Pan] = field(default_factory=dict)

    def ends(self, cable: Cable) -> tuple[Jack, Jack]:
        """The jacks of a cable."""
        return self.jacks[cable.source], self.jacks[cable.target]

    def is_passive(self, jack: Jack) -> bool:
        """Whether a jack belongs to gear without electronics."""
        return self.boxes[jack.gear].passive

    def box_of(self, jack: Jack) -> Box:
        """The gear of a jack."""
        return self.boxes[jack.gear]


@dataclass(frozen=True, slots=True)
class Reach:
    """One jack met through passive gear: when, by which cables, through which gear.

    loss_db: what pads on the way take off the voltage, by their nominal levels.
    """

    jack: Jack
    condition: Condition
    cables: tuple[Cable, ...]
    through: tuple[str, ...] = ()
    loss_db: float = 0.0


def loads(patch: Patch, output: Jack) -> tuple[Reach, ...]:
    """Every input that an output drives, passive gear on the way looked through."""
    return tuple(_walk(patch, output.name, onward=True))


def drivers(patch: Patch, input_: Jack) -> tuple[Reach, ...]:
    """Every output that drives an input, passive gear on the way looked through."""
    return tuple(_walk(patch, input_.name, onward=False))


def at_once(reaches: Iterable[Reach]) -> Iterator[tuple[Reach, ...]]:
    """Every set of reaches that are open together, in some position of the gear."""
    every = tuple(reaches)
    values: dict[str, set[Value]] = {}
    for reach in every:
        for control, allowed in reach.condition.items():
            values.setdefault(control, set()).update(allowed)
    choices = 1
    for allowed_values in values.values():
        choices *= len(allowed_values)
    if choices > MOST_POSITIONS:
        yield every
        return
    names = tuple(values)
    for chosen in product(*(sorted(values[name], key=str) for name in names)):
        setting = dict(zip(names, chosen, strict=True))
        yield tuple(
            reach
            for reach in every
            if all(setting[name] in ok for name, ok in reach.condition.items())
        )


def together(one: Condition, other: Condition) -> Condition | None:
    """Both conditions at once, or None if they exclude each other."""
    both = dict(one)
    for control, values in other.items():
        both[control] = both.get(control, values) & values
        if not both[control]:
            return None
    return both


def parallel_ohm(impedances: Iterable[float]) -> float:
    """Return the load of several impedances side by side; infinite for none."""
    admittance = sum(1.0 / ohm for ohm in impedances)
    return 1.0 / admittance if admittance else float("inf")


def _walk(patch: Patch, start: str, *, onward: bool) -> Iterator[Reach]:
    """Follow cables and passive gear from a jack, with the sound or against it."""
    here = Reach(patch.jacks[start], {}, ())
    todo = [here]
    seen: set[tuple[str, tuple[Cable, ...]]] = set()
    while todo:
        here = todo.pop(0)
        point = here.jack.name
        if (point, here.cables) in seen:
            continue
        seen.add((point, here.cables))
        for cable in patch.cables:
            near, far = cable.source, cable.target
            if not onward:
                near, far = far, near
            if near != point or cable in here.cables:
                continue
            there = replace(here, jack=patch.jacks[far], cables=(*here.cables, cable))
            if not patch.is_passive(there.jack):
                yield there
                continue
            todo += _behind(patch, there, onward=onward)


def _behind(patch: Patch, reach: Reach, *, onward: bool) -> Iterator[Reach]:
    """The other ends of a passive box that is met at one of its jacks."""
    for name, when in _inside(patch, reach.jack.name, onward=onward):
        both = together(reach.condition, when)
        jack = patch.jacks[name]
        if both is None:
            continue
        first, last = (reach.jack, jack) if onward else (jack, reach.jack)
        loss = 0.0
        if first.nominal_db is not None and last.nominal_db is not None:
            loss = first.nominal_db - last.nominal_db
        yield Reach(
            jack,
            both,
            reach.cables,
            (*reach.through, jack.gear),
            reach.loss_db + loss,
        )


def _inside(
    patch: Patch, start: str, *, onward: bool
) -> Iterator[tuple[str, Condition]]:
    """The jacks of the same passive gear that a jack is joined to, and when."""
    box = patch.box_of(patch.jacks[start])
    todo: list[tuple[str, Condition]] = [(start, {})]
    seen: set[str] = set()
    while todo:
        point, condition = todo.pop(0)
        if point in seen:
            continue
        seen.add(point)
        if point != start and point in patch.jacks:
            yield point, condition
        for way in box.ways:
            near, far = (way.source, way.target) if onward else (way.target, way.source)
            if near == point:
                both = together(condition, way.condition)
                if both is not None:
                    todo.append((far, both))
