"""Steering a crossing: where to, by which plan, and what follows after each leg.

Strategy: a request at rest is planned and begun, once gear has said what must be known
for it. While a crossing is under way the newest wish is kept and wins at the next
boundary between two legs (a level that goes in steps makes one after the step that is
being sent), where a new plan is made from what is believed then; one that is refused
there changes nothing. The scene under way stands for the one in force, so two quick
taps go two scenes on. What a helper was set to for a moment is owed back, whatever
becomes of the crossing: the next one pays it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from bridge.core import telling
from bridge.core.asking import Asking
from bridge.core.belief import is_settled
from bridge.core.control import Scene, ports_of
from bridge.core.crossing import Crossing
from bridge.core.debts import Debts
from bridge.core.desk import Desk
from bridge.core.effects import Pressed, Tell
from bridge.core.inquiry import Inquiry
from bridge.core.journey import REPLANS, Journey, Request, Turn
from bridge.core.rounds import Round, next_of
from bridge.core.table import State
from bridge.core.wayfinding import way_for


@dataclass(frozen=True, slots=True)
class Wish:
    """A request that is not planned yet: the round it goes, and who asks."""

    round: Round
    ticket: int | None = None
    pressed: Pressed | None = None


class Steering:
    """The crossing under way, if any, and the newest wish.

    It changes the state to CROSSING, RESTING and HALTED, and leaves STOPPING alone.
    wanted: the scene that was begun last. arrived: the one that was reached last.
    """

    def __init__(self, desk: Desk, inquiry: Inquiry) -> None:
        self._desk = desk
        self._inquiry = inquiry
        self.journey: Journey | None = None
        self.wish: Wish | None = None
        self.wanted: Scene | None = None
        self.arrived = ""
        self.debts = Debts(desk)
        self._asking = Asking(desk)

    def inherit(self, old: Steering, same: Iterable[str]) -> None:
        """Know what was wanted, reached and owed before the file was read anew."""
        if (wanted := old.wanted) is not None:
            scene = self._desk.studio.scenes.get(wanted.name)
            is_so = scene is not None and scene.values == wanted.values
            self.wanted = scene if is_so else None
        self.arrived = old.arrived
        self.debts.inherit(old.debts, same)
        if (wish := old.wish) is not None:  # it has waited for an answer
            if self._desk.studio.scenes.keys() >= set(wish.round):
                self.wish = wish
            else:
                because = "the studio file has no such scene any more"
                self._desk.tell(telling.not_taken(because, wish.ticket))

    # Requests

    def go(self, wish: Wish) -> bool:
        """Begin a crossing from rest; False if it is refused."""
        wish = replace(wish, round=(next_of(wish.round, self._here()),))
        self._supersede(wish)  # what has waited for an answer
        self.wish = None
        request = self._request(wish)
        if self._asking.begin(self.debts.added_to(request.scene).values):
            self.wish = wish
            return True
        return self.begin(request)

    def go_if_answered(self) -> None:
        """At rest: begin what has waited for an answer, if all is known or in vain."""
        if self.wish is not None and self._asking.is_over:
            wish, self.wish = self.wish, None
            self.begin(self._request(wish))

    def keep(self, wish: Wish) -> None:
        """Keep the newest wish; turn to it now if nothing is on its way."""
        if self.journey is not None:
            wish = replace(wish, round=(next_of(wish.round, self._here()),))
        self._supersede(wish)
        self.wish = wish
        if (journey := self.journey) is None:
            return
        if journey.may_turn():
            self._take_wish()
        elif wish.round != (journey.request.scene.name,):
            journey.cut_short()

    def drop_wish(self, because: str) -> None:
        """The wish cannot be had any more."""
        if self.wish is not None:
            self._desk.tell(telling.not_taken(because, self.wish.ticket))
            self.wish = None

    def _supersede(self, wish: Wish) -> None:
        """The wish that is kept, if any, gives way to a newer one."""
        if (older := self.wish) is not None:
            names, newer = (" or ".join(one.round) for one in (older, wish))
            self._desk.tell(telling.superseded(names, newer, older.ticket))

    def _request(self, wish: Wish) -> Request:
        """For the scene of the wish, or the first of its round."""
        scene = self._desk.studio.scenes[next_of(wish.round, ())]
        return Request(scene, wish.ticket, pressed=wish.pressed)

    def _here(self) -> tuple[str, ...]:
        """Where the person is, or is going to; what counts most comes first."""
        if self.wish is not None:
            return self.wish.round
        if self.journey is not None:
            return (self.journey.request.scene.name,)
        now = self._desk.scenes_in_force
        return (self.arrived, *now) if self.arrived in now else now

    # A crossing

    def begin(self, request: Request) -> bool:
        """Plan from what is believed now, and begin; False if it is refused."""
        way = way_for(self._desk, self.debts, request)
        if isinstance(way, Tell):
            self._desk.tell(way)
            return False
        self._set_out(*way)
        return True

    def travel(self) -> None:
        """Go on as far as is possible now."""
        while (journey := self.journey) is not None:
            match journey.advance():
                case Turn.UNDER_WAY:
                    # A wish waits for what was sent, and not for a hand beside it.
                    if not journey.may_turn() or not self._take_wish():
                        return
                case Turn.LEG_OVER | Turn.OFF_COURSE:
                    self._turn(journey)
                case Turn.GUARDED:
                    self._plan_around_guard(journey)
                case Turn.FAILED:
                    self._give_up(journey.lateness())

    def halt(self, because: str) -> None:
        """Give the crossing under way up; what is not sure is believed to be so."""
        if self.journey is not None:
            request = self.journey.request
            self._give_up(telling.halted(request.scene, because, request.ticket))

    def see_whether_arrived(self) -> None:
        """A crossing was given up, but its gear may have answered in the end."""
        belief, scene = self._desk.knowledge.belief, self.wanted
        if scene is not None and is_settled(belief, scene.values):
            self._arrive(Request(scene))

    def let_go(self) -> bool:
        """Begin the way to where every contact is let go; False if we are there.

        A way that is refused leaves contacts as they are.
        """
        desk = self._desk
        rest = {
            name: control.at_rest
            for name, control in desk.studio.controls.items()
            if control.at_rest is not None
            and desk.knowledge.belief[name] != {control.at_rest}
            and not ports_of(control) & desk.absent.keys()
        }
        scene = Scene("rest", rest, is_named=False)
        values = self.debts.added_to(scene).values
        return bool(values) and self.begin(Request(scene, is_leaving=True))

    def go_to_end(self, name: str) -> bool:
        """Begin the way to the scene that the service stops in; False if refused."""
        return self.begin(Request(self._desk.studio.scenes[name], is_leaving=True))

    def _set_out(self, request: Request, way: Crossing, replans: int = 0) -> None:
        desk = self._desk
        self.wanted = request.scene
        self.debts.begun(way)
        self._inquiry.pause()
        for change in way.by_hand:
            # A person has been told of it by now, and may do it at any moment.
            desk.knowledge.sending(change, desk.now)
        self.journey = Journey(
            desk, request, way, desk.knowledge.belief, replans=replans
        )
        if not way.legs:
            self._arrive(request)
            return
        if replans == 0:
            desk.tell(telling.crossing(desk.studio, request.scene, way))
        if desk.state is not State.STOPPING:
            desk.state = State.CROSSING

    def _turn(self, journey: Journey) -> None:
        """At a boundary: stop, turn to a newer wish, plan again, or go on."""
        is_leaving = journey.request.is_leaving
        if self._desk.state is State.STOPPING and not is_leaving:
            self.halt("the service stops")
        elif journey.is_on_course and not journey.has_legs_left:
            self._arrive(journey.request)
            self._take_wish()
        elif not self._take_wish() and not journey.is_on_course:
            because = "something was moved by hand meanwhile"
            if journey.is_cut_short:
                because = "it was left half-way for what cannot be had from there"
            self._plan_again(journey, because)

    def _take_wish(self) -> bool:
        """Turn to the newest wish, if there is one and it can be had from here."""
        if self.wish is None:
            return False
        wish, self.wish = self.wish, None
        request = self._request(wish)
        way = way_for(self._desk, self.debts, request)
        if isinstance(way, Tell):
            self._desk.tell(way)
            return False
        if self.journey is not None:
            old, name = self.journey.request, request.scene.name
            self._desk.tell(telling.superseded(old.scene.name, name, old.ticket))
            self.journey.abandon()
        self._set_out(*way)
        return True

    def _plan_around_guard(self, journey: Journey) -> None:
        rules, request = journey.rules, journey.request
        journey.abandon()
        if self._take_wish():
            return
        because = f"the guard refuses what might break {', '.join(rules)}"
        if journey.was_guarded:
            scene, ticket = request.scene, request.ticket
            self._give_up(telling.halted(scene, because, ticket, rules))
            return
        self._plan_again(journey, because)
        if self.journey is not None:
            self.journey.was_guarded = True

    def _plan_again(self, journey: Journey, because: str) -> None:
        request = journey.request
        scene, ticket = request.scene, request.ticket
        journey.abandon()
        way = way_for(self._desk, self.debts, request)
        if isinstance(way, Tell):
            words = f"{because}; {way.words}"
            self._give_up(telling.halted(scene, words, ticket, way.rules, way.cure))
        elif journey.replans >= REPLANS and not journey.is_cut_short:
            self._give_up(telling.halted(scene, because, ticket))
        else:
            # Who asks for what cannot be had stops nothing, however often.
            replans = max(1, journey.replans + (not journey.is_cut_short))
            self._set_out(*way, replans=replans)

    def _give_up(self, record: Tell) -> None:
        if self.journey is not None:
            self.journey.abandon()
            self.journey = None
        self._desk.tell(record)
        if self._desk.state is not State.STOPPING:
            self._desk.state = State.HALTED
            self._take_wish()

    def _arrive(self, request: Request) -> None:
        self.journey = None
        self.debts.arrived(request.scene)
        if self._desk.state is not State.STOPPING:
            is_named = request.scene.is_named
            self.arrived = request.scene.name if is_named else ""
            self._desk.state = State.RESTING
            self._desk.tell(telling.arrived(request.scene, request.ticket))
