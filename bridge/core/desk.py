"""What the parts of the machine share, and the one way to send.

Rules of this file: `send_ready` is the only place where a message is sent, and it asks
the guard about the belief of that very moment, whoever planned the message and when.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from bridge.core.awaited import Parcel
from bridge.core.belief import Belief
from bridge.core.connection import MidiDevice
from bridge.core.control import ports_of
from bridge.core.effects import Effect, Send, Tell
from bridge.core.falling import Falling
from bridge.core.flight import Flight
from bridge.core.guard import Judge, refused_because
from bridge.core.knowledge import Knowledge
from bridge.core.leg import Change
from bridge.core.plans import Navigator, Plans
from bridge.core.settings import before_start, in_force
from bridge.core.studio import Studio
from bridge.core.table import State
from bridge.core.toggling import blindly_flipped
from bridge.core.wire import Value

NOT_OPENED = "not opened yet"
"""Why a port is not there before anything was heard of it."""


@dataclass(slots=True)
class Desk:
    """The studio, what is believed of it, what is under way, and who is not there.

    now: monotonic seconds, of the present event.
    absent: port -> why it is not there, in words. effects: what is to be done now.
    """

    studio: Studio
    judge: Judge
    plans: Plans
    knowledge: Knowledge
    flight: Flight
    now: float
    state: State = State.STARTING
    absent: dict[str, str] = field(default_factory=dict)
    effects: list[Effect] = field(default_factory=list)
    _in_force: tuple[Belief, tuple[str, ...]] | None = None
    _falling: Falling = field(init=False)

    def __post_init__(self) -> None:
        self._falling = Falling(self.judge, self.studio.controls)

    @property
    def scenes_in_force(self) -> tuple[str, ...]:
        """The scenes of which every value surely holds, in the file's order.

        A belief is never changed, only replaced, so the last answer is kept: a press
        asks for it before its first message.
        """
        belief, kept = self.knowledge.belief, self._in_force
        if kept is None or kept[0] is not belief:
            names = tuple(scene.name for scene in in_force(self.studio, belief))
            self._in_force = kept = (belief, names)
        return kept[1]

    def refused(
        self, changes: Iterable[Change], at_once: Iterable[Iterable[Change]] = ()
    ) -> tuple[str, ...]:
        """What the guard has against these changes now; empty: nothing.

        at_once: further changes, of which the gear applies each lot in one instant.
        """
        sent = tuple(in_flight(changes))
        lots = [{change.control: change.value for change in lot} for lot in at_once]
        against: dict[str, None] = {}
        for belief in self.knowledge.possible:
            found = refused_because(self._falling, belief, sent, lots)
            against |= dict.fromkeys(found)
        return tuple(against)

    def nevers_broken(self) -> Mapping[str, float]:
        """The never-rules that may be broken now, and how badly."""
        worst: dict[str, float] = {}
        for belief in self.knowledge.possible:
            for rule, harm in self.judge.nevers_broken(belief).items():
                worst[rule] = max(harm, worst.get(rule, harm))
        return worst

    def tell(self, record: Tell) -> None:
        """Put a record among the effects."""
        self.effects.append(record)

    def send_ready(self) -> tuple[str, ...]:
        """Send what is ready, or say which rules the guard sees broken by it."""
        parcels = self.flight.ready(self.now)
        changes, lots = _sorted(parcels)
        if changes or lots:
            blind = blindly_flipped(self.knowledge.belief, changes)
            rules = blind or self.refused(changes, lots)
            if rules:
                return rules
        for change in changes:
            self.knowledge.sending(change, self.now)
        for lot in lots:
            self.knowledge.sending_at_once(lot, self.now)
        self.flight.sent(parcels, self.now)
        self.effects += [Send(parcel.message) for parcel in parcels]
        return ()

    def at_port(self, port: str) -> tuple[str, ...]:
        """The controls whose messages go to this port."""
        controls = self.studio.controls
        return tuple(name for name, c in controls.items() if port in ports_of(c))


def desk_for(
    studio: Studio,
    judge: Judge,
    navigator: Navigator,
    powered: Iterable[str],
    now: float,
) -> Desk:
    """A desk of which nothing was heard yet, and whose ports are not opened yet.

    powered: gear that surely was powered a moment ago, and not used since.
    """
    controls = studio.controls
    spacing = {
        device.name: device.spacing_ms / 1000
        for device in studio.connections
        if isinstance(device, MidiDevice)
    }
    return Desk(
        studio,
        judge,
        Plans(navigator, controls),
        Knowledge(controls, before_start(studio), powered, now),
        Flight(controls, spacing),
        now,
        absent={p: NOT_OPENED for c in controls.values() for p in ports_of(c)},
    )


def _sorted(
    parcels: Iterable[Parcel],
) -> tuple[tuple[Change, ...], tuple[tuple[Change, ...], ...]]:
    """The changes that come one by one, and the lots that come in one instant."""
    gone = tuple(parcels)
    single = dict.fromkeys(c for p in gone if not p.at_once for c in p.changes)
    lots = dict.fromkeys(p.changes for p in gone if p.at_once)
    return tuple(single), tuple(lots)


def in_flight(changes: Iterable[Change]) -> tuple[tuple[str, Value], ...]:
    """Every (control, value) that may be in force while these are under way."""
    return tuple(
        (change.control, value)
        for change in changes
        for value in (change.value, *change.passes)
    )
