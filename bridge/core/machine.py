"""The switching machine: it is told what happened and when, and says what to do.

Rules of this file: no clock, no port, no task; what a state does about an event stands
in `table.TABLE` and nowhere else; every request is told how it ended, exactly once.

Strategy: `desk` is what all parts share; `wishes` takes what is asked for, `steering`
decides about crossings, `journey` is one of them, `inquiry` asks gear what it holds,
`news` is what comes in, `watch` looks at what others do to the desk, and `lifetime` is
how it starts and stops.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf

from bridge.core import heir, telling
from bridge.core.desk import desk_for
from bridge.core.effects import (
    Began,
    Done,
    Due,
    Effect,
    Event,
    Moved,
    NotSent,
    Owe,
    PortFound,
    PortLost,
    Pressed,
    Said,
    Stop,
    Wanted,
)
from bridge.core.guard import Judge
from bridge.core.hands import NOTHING_BY_HAND, Hands
from bridge.core.home import Home
from bridge.core.inquiry import Inquiry
from bridge.core.knowledge import Knowledge
from bridge.core.lamp import Sign
from bridge.core.lamps import Lamps, view_of
from bridge.core.leftovers import Leftovers
from bridge.core.lifetime import Lifetime
from bridge.core.mending import Mender
from bridge.core.news import News
from bridge.core.plans import Navigator
from bridge.core.reception import Reception
from bridge.core.steering import Steering
from bridge.core.studio import Studio
from bridge.core.table import MOVES, TABLE, Act, State
from bridge.core.watch import Watch
from bridge.core.wire import Message, Value
from bridge.core.wishes import Wishes

_WATCHED = frozenset({State.RESTING, State.CROSSING, State.HALTED})
_AT_REST = frozenset({State.STARTING, State.RESTING, State.HALTED})


class Machine:
    """The state of the service. All times are monotonic seconds."""

    def __init__(
        self,
        studio: Studio,
        judge: Judge,
        navigator: Navigator,
        now: float,
        powered: Iterable[str] = (),
        owed: Mapping[str, Value] | None = None,
    ) -> None:
        """Begin with nothing known of what messages move.

        powered: gear that surely was powered a moment ago, and not used since.
        owed: what the life before this one kept last by an `Owe`.
        """
        self.studio = studio
        self.reception = Reception(studio)
        self._desk = desk_for(studio, judge, navigator, powered, now)
        self._inquiry = Inquiry(self._desk)
        self._steering = Steering(self._desk, self._inquiry)
        self._watch = Watch(self._desk)
        self._mender = Mender(self._desk, self._steering)
        self._news = News(self._desk, self._inquiry, self._steering, self._watch)
        self._hands = Hands(self._desk, self._steering, self._news)
        self._lamps = Lamps(studio.lamps)
        self._home = Home(self._desk, self._inquiry, self._steering)
        self._wishes = Wishes(self._desk, self._hands, self._home, self._steering)
        self._lifetime = Lifetime(self._desk, self._inquiry, self._steering, self._home)
        self._kept = tuple(sorted((owed or {}).items()))
        self._leftovers = Leftovers(
            self._desk, self._inquiry, self._steering, dict(self._kept)
        )

    def take_over(self, old: Machine, kept: Mapping[str, str]) -> tuple[Effect, ...]:
        """Go on where `old` stops, which is between crossings: the file was read anew.

        kept: the ports that stay open, and for each why it is not there ("": it is).
        """
        assert old.is_between
        same = heir.inherit(self.parts, old.parts, kept)
        self._kept = old._kept
        self._desk.tell(telling.read_anew(self.studio, same))
        self._desk.effects += old._lamps.left_to(self._lamps)
        for port, why in kept.items():
            if not why:
                self._lamps.found(port)
        return self.handle(Due(), self._desk.now)

    @property
    def parts(self) -> heir.Parts:
        """What remembers, for whoever goes on for this machine."""
        return heir.Parts(
            self._desk,
            self.reception,
            self._inquiry,
            self._steering,
            self._watch,
            self._home,
            self._leftovers,
        )

    # What the engine and the faces use

    @property
    def is_between(self) -> bool:
        """Whether nothing is under way, so that another studio may take over."""
        return self.state in heir.BETWEEN

    @property
    def state(self) -> State:
        """Where the machine is."""
        return self._desk.state

    @property
    def knowledge(self) -> Knowledge:
        """What is believed of each control, why, and since when."""
        return self._desk.knowledge

    @property
    def absent(self) -> dict[str, str]:
        """The ports that are not there, and why, in words."""
        return dict(self._desk.absent)

    @property
    def scenes_in_force(self) -> tuple[str, ...]:
        """The scenes of which every value surely holds, in the file's order."""
        return self._desk.scenes_in_force

    @property
    def heading(self) -> str:
        """The scene that is being crossed to, or ""."""
        journey = self._steering.journey
        return journey.request.scene.name if journey is not None else ""

    @property
    def hands(self) -> Hands:
        """What a person is asked to set, will be, and alone can tell."""
        return self._hands

    @property
    def signs(self) -> dict[str, Sign]:
        """What each lamp tells now, by its name."""
        return self._lamps.signs

    @property
    def untold(self) -> frozenset[str]:
        """The lamps whose ports are not there."""
        return self._lamps.untold

    @property
    def deadline(self) -> float | None:
        """When `wake` must be called next; None: not before something happens."""
        if self.state is State.STOPPED:
            return None
        desk = self._desk
        at = min(
            self.reception.deadline,
            self._lifetime.over_at,
            desk.flight.next_at(desk.now),
        )
        if self._steering.journey is None:
            at = min(at, self.knowledge.ask_at)
        if self.state in _WATCHED:
            at = min(at, self._watch.due)
        at = min(at, self._lamps.due)
        return None if at == inf else at

    def hear(self, message: Message, at: float, now: float) -> tuple[Effect, ...]:
        """A message came in at `at`."""
        self._lamps.touched(message)
        events = self.reception.hear(message, at)
        return tuple(effect for e in events for effect in self.handle(e, now))

    def wake(self, now: float) -> tuple[Effect, ...]:
        """The deadline has come, or any other time."""
        events: tuple[Event, ...] = (*self.reception.passed(now), Due())
        return tuple(effect for e in events for effect in self.handle(e, now))

    def handle(self, event: Event, now: float) -> tuple[Effect, ...]:
        """Something happened. Returns what is to be done, in this order."""
        released = (
            self.reception.lost(event.port) if isinstance(event, PortLost) else ()
        )
        self._desk.now = max(self._desk.now, now)
        before = self.state
        act = TABLE[before][type(event)]
        if act is not Act.IGNORE:
            self._act(act, event)
            self._work()
        if self.state is not before:
            assert self.state in MOVES[before], f"{event}: {before} to {self.state}"
        self._keep_what_is_owed()
        effects = tuple(self._desk.effects)
        self._desk.effects.clear()
        late = (effect for made in released for effect in self.handle(made, now))
        return (*effects, *late)

    def _keep_what_is_owed(self) -> None:
        """Before anything is sent that owes more; after all else, if less is owed."""
        owed = self._steering.debts.standing
        if owed != self._kept:
            is_more = not set(owed) <= set(self._kept)
            place = 0 if is_more else len(self._desk.effects)
            self._desk.effects.insert(place, Owe(owed))
            self._kept = owed

    def prepare(self) -> bool:
        """At rest, make one plan that a button may need; False if all are made."""
        if self.state not in (State.RESTING, State.HALTED):
            return False
        rounds = (names for b in self.studio.buttons for names in b.rounds.values())
        names = dict.fromkeys(name for round_ in rounds for name in round_)
        scenes = [self._steering.debts.added_to(self.studio.scenes[n]) for n in names]
        return self._desk.plans.prepare(self.knowledge.belief, scenes)

    # The acts of the table

    def _act(self, act: Act, event: Event) -> None:
        match act, event:
            case Act.GO_ON, Due():
                pass
            case Act.BEGIN, Began():
                self._lifetime.begin()
            case Act.GO | Act.KEEP | Act.REFUSE, Pressed() | Wanted() as request:
                self._wishes.take(act, request)
            case Act.NOTE, Moved(name, value):
                self._news.moved(name, value)
            case Act.NOTE, Said(name, value):
                self._news.said(name, value)
            case Act.HAND_ON, Done(ticket):
                self._hands.done(ticket)
            case Act.REFUSE, Done(ticket):
                self._desk.tell(telling.not_taken(NOTHING_BY_HAND, ticket))
            case Act.GIVE_UP, NotSent(port, why):
                self._news.not_sent(port, why)
            case Act.FORGET, PortLost(port, why):
                self._lamps.lost(port)
                self._news.lost(port, why)
                self._home.gear_lost(port)
            case Act.ASK, PortFound(port):
                self._lamps.found(port)
                if self._news.found(port):
                    self._home.gear_found()
            case Act.LET_GO, Stop():
                self._lifetime.stop()
            case Act.END, Stop():
                self._lifetime.end("stopped at once, as asked twice")
            case _:
                msg = f"the table says {act} for {event}"
                raise AssertionError(msg)

    # After every event: what has become due or possible

    def _work(self) -> None:
        if self.state in _AT_REST:
            self._rest()
        self._steering.travel()
        if self.state is State.STOPPING:
            self._lifetime.go_on_stopping()
        if self.state in _AT_REST:
            self._watch.look()
        if self.state in _WATCHED and self._watch.due <= self._desk.now:
            self._judge()
        if self._lamps:
            view = view_of(self._desk, self._steering, self._watch)
            self._desk.effects += self._lamps.look(view, self._desk.now)

    def _judge(self) -> None:
        """Tell what hands have done; mend it if the studio wants that."""
        hands = self._watch.hands
        self._desk.effects += self._watch.judge()
        if self.studio.mends_drift and self.state in _AT_REST:
            self._mender.judged(hands, is_broken=self._watch.is_broken)
            self._steering.travel()

    def _rest(self) -> None:
        self._inquiry.go_on()
        if self.state is State.STARTING:
            self._lifetime.go_on_starting()
        elif self.state is State.HALTED:
            self._steering.see_whether_arrived()
        if self.state is not State.STARTING:
            self._home.look()
            self._leftovers.look()
            self._steering.go_if_answered()
