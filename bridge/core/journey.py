"""One crossing under way: leg by leg, each confirmed before the next is sent.

Strategy: the journey says what has come of its leg, and the machine decides what
follows. Between two legs nothing is on its way, so there the newest wish may win and
a new plan may be made from what is believed then.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from math import inf

from bridge.core import telling
from bridge.core.belief import Belief, is_settled, settled, widened
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.desk import Desk
from bridge.core.effects import Pressed, Tell
from bridge.core.flight import TRIES
from bridge.core.leg import Change

REPLANS = 3
"""How often one crossing may be planned anew because the desk was moved by hand: a
hand that keeps turning would otherwise keep us planning for as long as it likes."""


@dataclass(frozen=True, slots=True)
class Request:
    """A scene that is wanted, and who wants to know how it ends.

    is_leaving: it is crossed to because the service stops.
    pressed: the press that led here, if it was one.
    """

    scene: Scene
    ticket: int | None = None
    is_leaving: bool = False
    pressed: Pressed | None = None


class Turn(Enum):
    """What has come of the present leg.

    UNDER_WAY: something is still waited for. LEG_OVER: all is confirmed and settled.
    OFF_COURSE: a hand moved something, and not everything of the leg is sent.
    GUARDED: the guard refused to send; nothing of that was sent.
    FAILED: somebody did not answer, or did not do it, in time.
    """

    UNDER_WAY = "under way"
    LEG_OVER = "leg over"
    OFF_COURSE = "off course"
    GUARDED = "guarded"
    FAILED = "failed"


@dataclass(slots=True)
class Journey:
    """A crossing and how far it has come.

    expected: the belief that the plan reckons with at the next boundary.
    replans: how often it was planned anew. was_guarded: once because of the guard.
    is_cut_short: a level that goes in steps was left on one of them.
    rules: what the guard saw. late: who did not answer.
    asked_at: when a person was last asked for a step by hand.
    """

    desk: Desk
    request: Request
    crossing: Crossing
    expected: Belief
    leg: int = 0
    replans: int = 0
    is_cut_short: bool = False
    was_guarded: bool = False
    is_loaded: bool = False
    is_sent: bool = False
    rules: tuple[str, ...] = ()
    late: tuple[str, ...] = ()
    asked_at: float = inf

    @property
    def waits_for_hands(self) -> bool:
        """Whether nothing but a person is waited for."""
        flight, now = self.desk.flight, self.desk.now
        left = [a for a in flight.awaited.values() if not a.is_over(now)]
        return bool(left) and not flight.has_unsent and all(a.is_by_hand for a in left)

    @property
    def hands_left(self) -> tuple[Change, ...]:
        """The steps by hand of which nobody has said yet that they are done."""
        legs = self.crossing.legs[self.leg :]
        left = {change.control for leg in legs for change in leg.changes}
        belief = self.desk.knowledge.belief
        return tuple(
            change
            for change in self.crossing.by_hand
            if change.control in left and belief[change.control] != {change.value}
        )

    @property
    def has_legs_left(self) -> bool:
        """Whether a leg is under way or still to come."""
        return self.leg < len(self.crossing.legs)

    @property
    def is_on_course(self) -> bool:
        """Whether nothing but the plan has changed what is believed."""
        belief = self.desk.knowledge.belief
        is_there = is_settled(belief, self.request.scene.values)
        if not self.has_legs_left and not is_there:
            return False
        possible = self.expected
        if self.is_loaded:
            possible = widened(possible, self.crossing.legs[self.leg].in_flight)
        return all(belief[name] <= values for name, values in possible.items())

    def may_turn(self) -> bool:
        """Whether a newer wish need not wait: nothing sent is still on its way."""
        awaited = self.desk.flight.awaited.values()
        return not self.is_sent or all(
            a.is_over(self.desk.now) or a.is_by_hand for a in awaited
        )

    def cut_short(self) -> None:
        """Go no further than the step that is being sent, where a level goes in steps.

        Every step is proved with both of its ends, so from there a way is as from any
        other place; but the end of this leg is not reached.
        """
        desk = self.desk
        for name, level in desk.flight.stop_on_a_step(desk.now):
            desk.knowledge.ends_at(name, level)
            self.is_cut_short = True

    def advance(self) -> Turn:
        """Send what is due, once more where need be, and see what has come of it."""
        flight = self.desk.flight
        self.rules = () if self.is_loaded else self._load()
        if self.rules:
            return Turn.GUARDED
        late = flight.overdue(self.desk.now)
        self.late = tuple(name for name in late if self._has_no_try_left(name))
        if self.late:
            return Turn.FAILED
        flight.again(late)
        if flight.has_unsent and not self.is_on_course:
            return Turn.OFF_COURSE
        sent_before = len(self.desk.effects)
        self.rules = self.desk.send_ready()
        if self.rules:
            return Turn.GUARDED
        self.is_sent = self.is_sent or len(self.desk.effects) > sent_before
        if not flight.is_over(self.desk.now):
            return Turn.UNDER_WAY
        self._close_leg()
        return Turn.LEG_OVER

    def abandon(self) -> None:
        """Wait for nothing more; what was sent and is not over stays possible."""
        desk = self.desk
        for name, awaited in desk.flight.awaited.items():
            if awaited.is_over(desk.now):
                desk.knowledge.settle(name, desk.now)
            else:
                desk.knowledge.give_up(name, desk.now)
        for change in self.hands_left:
            desk.knowledge.give_up(change.control, desk.now)
        desk.flight.clear()

    def lateness(self) -> Tell:
        """Who did not answer, or did not do it."""
        return telling.unconfirmed(
            self.desk.studio, self.request.scene, self.late, self.request.ticket
        )

    def _load(self) -> tuple[str, ...]:
        """Put the leg in, and ask for what is done by hand unless the guard refuses."""
        desk, leg = self.desk, self.crossing.legs[self.leg]
        self.is_loaded, self.is_sent = True, False
        by_hand = tuple(c for s in leg.steps if s.by_hand for c in s.changes)
        belief = desk.knowledge.belief
        still = tuple(c for c in by_hand if belief[c.control] != {c.value})
        if still:
            rules = desk.refused(still)
            if rules:
                return rules
            self.asked_at = desk.now
            desk.tell(telling.by_hand(desk.studio, still))
            for change in still:
                desk.knowledge.sending(change, desk.now)
        for step in leg.steps:
            held_off = [
                desk.knowledge.may_send_at(change.control, change.value)
                for change in step.carried
            ]
            desk.flight.load(step, max(held_off), desk.now)
        for change in by_hand:
            if change not in still:  # said before it was asked for
                desk.flight.confirmed(change.control, desk.now)
        return ()

    def _close_leg(self) -> None:
        for name in self.desk.flight.awaited:
            self.desk.knowledge.settle(name, self.desk.now)
        self.desk.flight.clear()
        leg = self.crossing.legs[self.leg]
        self.expected = settled(self.expected, leg.setting)
        self.leg, self.is_loaded = self.leg + 1, False

    def _has_no_try_left(self, name: str) -> bool:
        awaited = self.desk.flight.awaited[name]
        return awaited.is_by_hand or awaited.tries >= TRIES
