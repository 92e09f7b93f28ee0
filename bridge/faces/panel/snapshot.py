"""What the panel knows of the running service: one look at it, as values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

from bridge.core.belief import Belief
from bridge.core.button import Gesture
from bridge.core.effects import Told
from bridge.core.entries import Worn
from bridge.core.ground import Ground
from bridge.core.lamp import Sign
from bridge.core.machine import Machine
from bridge.core.wire import Value


@dataclass(frozen=True, slots=True)
class Believed:
    """What is believed of one control, why, and since when (monotonic seconds)."""

    control: str
    values: frozenset[Value]
    ground: Ground
    since: float


@dataclass(frozen=True, slots=True)
class Record:
    """Something that happened. at: monotonic seconds. when: seconds since 1970."""

    told: Told
    words: str
    at: float
    when: float
    scene: str = ""
    controls: tuple[str, ...] = ()
    cure: str = ""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One look at the service.

    state: as the machine says it. scenes: those surely in force. heading: the scene
    that is being crossed to, or "". absent: ports that are not there, and why.
    by_hand: what a person is asked to set now, and to what. later_by_hand: the same in
    the legs to come. unsure_by_hand: what only a person can tell, and nobody has told.
    words: the presses that say it is done, as button and gesture.
    worn: the relays whose operations are counted. notes: what else a person should
    know, each with a head: a studio file that is not in force, what a start missed.
    lamps: what each tells, by its name. untold: those whose port is not there.
    halves: beliefs of which one is true, while a recall that comes in one instant is
    under way; else empty.
    """

    at: float
    state: str
    scenes: tuple[str, ...]
    heading: str
    believed: tuple[Believed, ...]
    absent: Mapping[str, str]
    by_hand: tuple[tuple[str, Value], ...] = ()
    later_by_hand: tuple[tuple[str, Value], ...] = ()
    unsure_by_hand: tuple[str, ...] = ()
    worn: tuple[Worn, ...] = ()
    notes: tuple[tuple[str, tuple[str, ...]], ...] = ()
    lamps: tuple[tuple[str, Sign], ...] = ()
    untold: frozenset[str] = frozenset()
    halves: tuple[Belief, ...] = ()
    words: frozenset[tuple[str, Gesture]] = frozenset()

    @property
    def belief(self) -> Belief:
        """What the planner looks at: what each control may be."""
        return {b.control: b.values for b in self.believed}

    @property
    def possible(self) -> tuple[Belief, ...]:
        """What machine and guard judge by: beliefs of which one is true."""
        return self.halves or (self.belief,)


class Bench(Protocol):
    """What the panel asks of the service. From the event loop only."""

    def look(self) -> Snapshot:
        """How it stands now."""
        ...

    def ask(self, words: tuple[str, ...], reply: Callable[[str], None]) -> None:
        """Ask as any program may: ("press", button, gesture), ("go", scene), ("done",).

        Or ("hand", control, value): how it stands.
        `reply` gets one line of JSON when the request has ended.
        """
        ...

    def dropped(self) -> Mapping[str, int]:
        """What was dropped so far, by cause in words."""
        ...


def look_at(machine: Machine, now: float, worn: tuple[Worn, ...] = ()) -> Snapshot:
    """Copy what the panel shows out of the machine."""
    possible = machine.knowledge.possible
    tracks = ((name, machine.knowledge[name]) for name in machine.studio.controls)
    return Snapshot(
        now,
        machine.state.value,
        machine.scenes_in_force,
        machine.heading,
        tuple(Believed(n, t.values, t.ground, t.since) for n, t in tracks),
        machine.absent,
        tuple((change.control, change.value) for change in machine.hands.asked),
        tuple((change.control, change.value) for change in machine.hands.to_come),
        tuple(control.name for control in machine.hands.unsure),
        worn,
        lamps=tuple(machine.signs.items()),
        untold=machine.untold,
        halves=possible if len(possible) > 1 else (),
        words=machine.hands.words,
    )
