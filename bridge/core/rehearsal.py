"""A rehearsal: the real machine, imagined gear, and a clock that is only a number.

Every state that the imagined gear truly passes is judged; a state that breaks a
never-rule is kept, with its moment. What each listener hears is told when it changes.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf

from bridge.core.belief import known
from bridge.core.control import ports_of
from bridge.core.effects import (
    Began,
    Effect,
    Event,
    Light,
    Owe,
    PortFound,
    PortLost,
    Send,
    Stop,
    Tell,
)
from bridge.core.hearing import Bound
from bridge.core.judge import HouseJudge
from bridge.core.lamp import Sign
from bridge.core.machine import Machine
from bridge.core.plans import Navigator
from bridge.core.rules.demands import audible_db
from bridge.core.rules.sudden_level import levels
from bridge.core.table import State
from bridge.core.units import amplitude
from bridge.core.wire import Message, Value
from bridge.core.world import Change, Fate, World, as_found

MOST_STEPS = 100_000
"""Wake-ups in one stretch of time; a machine that spins does not get further."""

START_S = 4.0
"""Enough for gear to answer and for the start scene."""

SAME = amplitude(0.5)
"""Half a decibel louder or quieter is not worth a line."""

Hearing = dict[tuple[str, str], float]
"""(listener, source) -> amplitude, for what is audible."""


@dataclass(frozen=True, slots=True)
class Heard:
    """A listener hears a source now, at this amplitude; 0 for not any more."""

    listener: str
    source: str
    gain: float


@dataclass(frozen=True, slots=True)
class Broken:
    """These never-rules are truly broken from this moment on; empty: none any more."""

    rules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Lit:
    """What these lamps tell from this moment on, by their names."""

    signs: tuple[tuple[str, Sign], ...]


What = Message | Change | Tell | Heard | Broken | Lit


@dataclass(frozen=True, slots=True)
class Moment:
    """Something that happened, at a time in seconds from the start.

    what: a message that was sent, a control that truly moved, a record of the machine,
        a change of what is heard, a rule that is broken now, or what lamps tell.
    """

    at: float
    what: What


class Rehearsal:
    """Plays events on one studio and keeps what came of them, in order."""

    def __init__(
        self,
        judge: HouseJudge,
        navigator: Navigator,
        fate: Fate = lambda: (0.001,),
        true: dict[str, Value] | None = None,
    ) -> None:
        self.now = 0.0
        self.judge = judge
        self._navigator = navigator
        self.ledger: dict[str, Value] = {}
        studio = judge.studio
        self.world = World(studio, true or as_found(studio), fate)
        self.machine = self._born()
        self.moments: list[Moment] = []
        self._heard = self._hearing()
        self._broken: tuple[str, ...] = self._rules_broken()
        self._seen = 0
        self._signs: dict[str, Sign] = {}

    @property
    def broke(self) -> list[Moment]:
        """The moments at which a never-rule was truly broken."""
        return [m for m in self.moments if isinstance(m.what, Broken) and m.what.rules]

    def start(self) -> None:
        """The service starts and finds all ports, and has the time to settle."""
        self.begin(START_S)

    def begin(self, seconds: float) -> None:
        """The same, but only so much time has passed since."""
        self.happen(Began())
        for port in self._ports():
            if port not in self.world.out:
                self.happen(PortFound(port))
        self.wait(seconds)

    def happen(self, event: Event) -> None:
        """Tell the machine of an event, now."""
        self._perform(self.machine.handle(event, self.now))
        self._look()

    def wait(self, seconds: float) -> None:
        """Let time pass: packets arrive, and the machine is woken when it wants."""
        end = self.now + seconds
        for _ in range(MOST_STEPS):
            deadline, next_at = self.machine.deadline, self.world.next_at
            due = min(_or_never(deadline), _or_never(next_at))
            if due > end:
                break
            self.now = max(self.now, due)
            heard = self.world.pass_time(self.now)
            for message in heard:
                self._perform(self.machine.hear(message, self.now, self.now))
            if heard:
                deadline = self.machine.deadline
            if _or_never(deadline) <= self.now:
                self._perform(self.machine.wake(self.now))
            self._look()
        self.now = end

    def hand(self, name: str, value: Value) -> None:
        """A hand moves a control of the gear."""
        self.world.hand(name, value, self.now)
        self._look()

    def pull(self, port: str) -> None:
        """The plug of a port comes out; relays on it fall."""
        self.world.out.add(port)
        self.world.release_contacts(self.now, port)
        self.happen(PortLost(port, "the plug is out"))

    def plug(self, port: str) -> None:
        """It is in again."""
        self.world.out.discard(port)
        self.happen(PortFound(port))

    def kill(self, away_s: float) -> None:
        """The service dies where it stands, and starts again with nothing known."""
        self.world.release_contacts(self.now)
        self._look()
        self.machine = self._born()
        self._pass_without_service(away_s)
        self.machine = self._born()
        self.start()

    def _born(self) -> Machine:
        """It knows nothing but what the one before it has kept."""
        judge, owed = self.judge, self.ledger
        return Machine(judge.studio, judge, self._navigator, self.now, owed=owed)

    def stop(self) -> None:
        """The service ends in good order."""
        self.happen(Stop())
        self.wait(START_S)

    @property
    def has_ended_well(self) -> bool:
        """Whether the machine is in a state that it may stay in."""
        return self.machine.state in (State.RESTING, State.HALTED, State.STOPPED)

    def _pass_without_service(self, seconds: float) -> None:
        end = self.now + seconds
        while (due := self.world.next_at) is not None and due <= end:
            self.now = max(self.now, due)
            self.world.pass_time(self.now)
            self._look()
        self.now = end

    def _ports(self) -> list[str]:
        names: dict[str, None] = {}
        for control in self.judge.studio.controls.values():
            names.update(dict.fromkeys(ports_of(control)))
        names.update(dict.fromkeys(b.key[0] for b in self.judge.studio.buttons))
        return list(names)

    def _perform(self, effects: Iterable[Effect]) -> None:
        for effect in effects:
            match effect:
                case Send(message):
                    self._note(message)
                    self.world.send(message, self.now)
                    self._look()
                case Tell():
                    self._note(effect)
                case Owe(owed):
                    self.ledger = dict(owed)
                case Light():
                    pass  # its rhythm; what it tells is looked at below
        if self.judge.studio.lamps:
            self._look_at_lamps()

    def _note(self, what: What) -> None:
        self.moments.append(Moment(self.now, what))

    def _look_at_lamps(self) -> None:
        signs = self.machine.signs
        changed = signs.items() - self._signs.items()
        if changed:
            self._note(Lit(tuple(one for one in signs.items() if one in changed)))
            self._signs = signs

    def _look(self) -> None:
        """See what has truly moved, and what it means for ears and rules."""
        changes = self.world.changes[self._seen :]
        if not changes:
            return
        self._seen = len(self.world.changes)
        for change in changes:
            self._note(change)
        heard = self._hearing()
        for pair in sorted(heard.keys() | self._heard.keys()):
            gain = heard.get(pair, 0.0)
            was = self._heard.get(pair, 0.0)
            if max(gain, was) > min(gain, was) * SAME:
                self._note(Heard(*pair, gain))
                self._heard[pair] = gain
        broken = self._rules_broken()
        if broken != self._broken:
            self._broken = broken
            self._note(Broken(broken))

    def _rules_broken(self) -> tuple[str, ...]:
        return tuple(sorted(self.judge.nevers_broken(known(self.world.true))))

    def _hearing(self) -> Hearing:
        studio = self.judge.studio
        limits = {x.name: amplitude(audible_db(studio, x)) for x in studio.listeners}
        found = levels(self.judge.sums(known(self.world.true), Bound.LOUDEST))
        return {
            (listener, source): level
            for (source, listener), level in found.items()
            if level >= limits[listener]
        }


def _or_never(at: float | None) -> float:
    return inf if at is None else at
