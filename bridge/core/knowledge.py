"""What is believed of each control, why, and since when.

Rules of this file: the true value is in the set whatever was lost, late or doubled on
the way; a set grows the moment a message is sent, and shrinks only on what was heard
or, for gear that cannot answer, when its settle time is over.

Strategy: `hold_off_ms` is the longest life of a message on its wire (0 where the wire
keeps the order). What was sent may thus arrive so much later, and what the gear said
before that so much later again; until then the control is not *clear*: no different
value is sent to it, and what is heard of it may be old, so the set only grows.

Limits, told in the faces: gear that cannot answer is believed (a lost message is not
noticed); a hand on the gear is known when its notice has arrived, not before, and if
that notice is lost, when the gear is asked next; a hand that moves a control to and
fro just when we send to it may pass for our message.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from math import inf

from bridge.core.belief import Belief
from bridge.core.control import Control, Reach
from bridge.core.ground import Ground
from bridge.core.instant import Instant, possible
from bridge.core.leg import Change
from bridge.core.wire import Value

MOST_INSTANTS = 4
"""Recalls under way that are known to come as one: a leg has one for each piece of
gear. Each more doubles what is judged; an older one counts as coming bit by bit."""


class Heard(Enum):
    """What hearing a value meant."""

    NOTHING_NEW = "nothing new"
    LEARNT = "learnt"
    CONFIRMED = "confirmed"
    SURPRISE = "surprise"
    BACK = "back"  # what was sent has not moved it, or has moved it twice


@dataclass(slots=True)
class Track:
    """One control. `sent` is the value on its way, if any; times in seconds.

    is_asked_first: what is on its way turns the control over, or has many levels:
        until it is clear any of them may come, whatever the gear says before.
    clear_at: no message about it from before can arrive any more.
    doubt_until: what is heard before may be older than a hand on the gear.
    is_doubtful: a hand moved it while a value was on its way; which came last?
    said, said_at: what its gear said last. other_at: when it said anything else.
    ask_at: when to ask its gear again; infinite if it cannot be asked.
    """

    values: frozenset[Value]
    ground: Ground
    since: float = 0.0
    sent: Value | None = None
    is_asked_first: bool = False
    clear_at: float = 0.0
    doubt_until: float = 0.0
    is_doubtful: bool = False
    said: Value | None = None
    said_at: float = -inf
    other_at: float = -inf
    ask_at: float = inf


class Knowledge:
    """The tracks of all controls; `belief` is what judge, guard and planner see."""

    def __init__(
        self,
        controls: Mapping[str, Control],
        described: Belief,
        powered: Iterable[str],
        now: float,
    ) -> None:
        """Start from what the file describes; `powered` names gear just powered.

        Whoever sent before us may have messages under way: nothing is clear yet.
        """
        self._controls = controls
        self._tracks: dict[str, Track] = {}
        self._belief: dict[str, frozenset[Value]] = {}
        self._instants: tuple[Instant, ...] = ()
        gear = frozenset(powered)
        for name, control in controls.items():
            track = Track(described[name], Ground.UNKNOWN, now)
            if control.reach is not Reach.REMOTE and len(track.values) == 1:
                track.ground = Ground.DESCRIBED
            elif control.gear in gear and control.at_power_up is not None:
                track.values, track.ground = (
                    frozenset({control.at_power_up}),
                    Ground.POWER_UP,
                )
            track.clear_at = now + 2 * self._life(name)
            self._tracks[name] = track
            self._belief[name] = track.values

    def __getitem__(self, name: str) -> Track:
        return self._tracks[name]

    @property
    def belief(self) -> Belief:
        """What each control may be now. A new value after each change."""
        return self._belief

    @property
    def possible(self) -> tuple[Belief, ...]:
        """Beliefs of which one is true: a recall under way has come, or has not."""
        return possible(self._belief, self._instants)

    @property
    def ask_at(self) -> float:
        """When some control is to be asked next; infinite if never."""
        return min((t.ask_at for t in self._tracks.values()), default=inf)

    def to_ask(self, now: float) -> tuple[str, ...]:
        """The controls whose time to be asked has come."""
        return tuple(n for n, t in self._tracks.items() if t.ask_at <= now)

    def may_send_at(self, name: str, value: Value) -> float:
        """From when this value may be sent; what is on its way may be repeated."""
        track = self._tracks[name]
        is_repeat = track.sent == value and not track.is_asked_first
        return 0.0 if is_repeat else track.clear_at

    def keep(self, name: str, track: Track) -> None:
        """Believe what was believed before the studio file was read anew."""
        self._tracks[name] = track
        self._belief = {**self._belief, name: track.values}

    # What changes it

    def sending(self, change: Change, now: float) -> None:
        """The value is on its way: it may be in force, or the others still."""
        name = change.control
        track = self._tracks[name]
        track.clear_at = now + 2 * self._life(name)
        if track.values == {change.value}:
            return  # sent once more together with others
        track.sent, track.is_doubtful = change.value, False
        track.is_asked_first = change.is_asked_first
        wider = track.values | {change.value} | change.passes
        self._put(name, wider, self._on_its_way(name), now)

    def sending_at_once(self, changes: Iterable[Change], now: float) -> None:
        """A recall is on its way: all its values may be in force, or none of them."""
        sent = tuple(changes)
        instant = Instant(
            {change.control: self._belief[change.control] for change in sent},
            {change.control: frozenset({change.value}) for change in sent},
        )
        is_repeat = any(one.new == instant.new for one in self._instants)
        for change in sent:
            self.sending(change, now)
        if not is_repeat:
            self._instants = (*self._instants, instant)[-MOST_INSTANTS:]

    def ends_at(self, name: str, value: Value) -> None:
        """What is on its way goes no further than this level."""
        self._tracks[name].sent = value

    def settle(self, name: str, now: float) -> None:
        """What was sent to gear that cannot answer counts from now on."""
        track = self._tracks[name]
        if track.is_doubtful:
            self.give_up(name, now)
        elif track.sent is not None:
            value, track.sent = track.sent, None
            self._put(name, frozenset({value}), Ground.SETTLED, now)

    def give_up(self, name: str, now: float) -> None:
        """What was sent was never confirmed: old and new stay possible."""
        track = self._tracks[name]
        if track.sent is not None:
            track.sent = None
            is_hand = self._controls[name].reach is Reach.HAND
            track.ground = Ground.UNSAID if is_hand else Ground.UNCONFIRMED
            track.since = now
            self._ask(name, track.clear_at)

    def hear(self, name: str, value: Value, now: float) -> Heard:
        """The gear said this value."""
        track = self._tracks[name]
        is_fresh = self._is_fresh(track, value, now, self._life(name))
        surprises = value not in track.values
        if track.sent is not None and track.is_asked_first and not surprises:
            if not is_fresh:
                return Heard.NOTHING_NEW
            return self._hear_clear(track, name, value, now)
        if track.sent is not None and not surprises:
            if value != track.sent or now < track.doubt_until:
                return Heard.NOTHING_NEW
            track.sent = None
            self._learn(name, value, Ground.CONFIRMED, now)
            return Heard.CONFIRMED
        if track.sent is None and track.values == {value}:
            self._ask(name, max(track.clear_at, now + self._every(name)))
            return Heard.NOTHING_NEW
        if track.sent is None and is_fresh:
            ground = Ground.HAND if surprises else Ground.CONFIRMED
            self._learn(name, value, ground, now)
        elif surprises:
            track.is_doubtful = track.sent is not None
            self._put(name, track.values | {value}, Ground.HAND, now)
        else:
            return Heard.NOTHING_NEW
        if not surprises:
            return Heard.LEARNT
        track.doubt_until = now + self._life(name)
        track.clear_at = max(track.clear_at, track.doubt_until)
        if self._life(name) > 0 or len(track.values) > 1:
            self._ask(name, track.clear_at)
        return Heard.SURPRISE

    def _hear_clear(self, track: Track, name: str, value: Value, now: float) -> Heard:
        """Nothing can arrive any more that would move it: so it is."""
        is_there, track.sent = value == track.sent, None
        self._learn(name, value, Ground.CONFIRMED, now)
        return Heard.CONFIRMED if is_there else Heard.BACK

    @staticmethod
    def _is_fresh(track: Track, value: Value, now: float, life: float) -> bool:
        """Whether what is said now cannot be older than anything heard before."""
        if value != track.said:
            track.said, track.other_at = value, track.said_at
        track.said_at = now
        return now >= max(track.clear_at, track.other_at + life)

    def say(self, name: str, value: Value, ground: Ground, now: float) -> None:
        """Somebody who must know says this value: a person, or our own contact."""
        self._tracks[name].sent = None
        self._put(name, frozenset({value}), ground, now)

    def doubt(self, name: str, values: frozenset[Value], now: float) -> None:
        """What was said of it does not count: it may have any of these."""
        self._tracks[name].sent = None
        self._put(name, self._tracks[name].values | values, Ground.UNSAID, now)

    def forget(self, name: str, ground: Ground, now: float) -> None:
        """Nothing is known of it any more, and nobody is there to be asked."""
        track = self._tracks[name]
        track.sent, track.ask_at = None, inf
        track.clear_at = max(track.clear_at, now + 2 * self._life(name))
        self._put(name, frozenset(self._controls[name].values), ground, now)

    def ask_soon(self, name: str, now: float) -> None:
        """Its gear is there: ask as soon as what is heard cannot be old."""
        self._ask(name, max(now, self._tracks[name].clear_at))

    def ask_later(self, name: str, now: float) -> None:
        """It was asked, or nobody answers: ask again when its time comes."""
        self._ask(name, now + self._every(name))

    def _every(self, name: str) -> float:
        return self._controls[name].ask_every_ms / 1000

    def _on_its_way(self, name: str) -> Ground:
        is_hand = self._controls[name].reach is Reach.HAND
        return Ground.ASKED if is_hand else Ground.IN_FLIGHT

    def _life(self, name: str) -> float:
        return self._controls[name].hold_off_ms / 1000

    def _ask(self, name: str, at: float) -> None:
        if self._controls[name].ask:
            self._tracks[name].ask_at = at

    def _learn(self, name: str, value: Value, ground: Ground, now: float) -> None:
        track = self._tracks[name]
        track.clear_at = now + self._life(name)
        self._put(name, frozenset({value}), ground, now)
        self._ask(name, now + self._every(name))

    def _put(
        self, name: str, values: frozenset[Value], ground: Ground, now: float
    ) -> None:
        track = self._tracks[name]
        strange = values - track.values
        track.values, track.ground, track.since = values, ground, now
        self._belief = {**self._belief, name: values}
        if self._instants:
            self._instants = tuple(
                one.widened(name, strange) if name in one.old else one
                for one in self._instants
                if not one.is_over(self._belief)
            )
