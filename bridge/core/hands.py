"""What a person does by hand, and how the machine learns that it is done.

Strategy: a step by hand is waited for, and there are three ways to say that it is done:
a word (`Done`, from the page, a command, a program), the value of a control (`Said`),
and a press of the same button that led here, since both hands are on the desk. Nobody
sets a control within half a second; a press sooner than that is an impatient one, and
counts as any press does.

A button that knows taps and holds taps first, so a hold that is meant to lead away has
said "done" on its way. That word is taken back.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core import telling
from bridge.core.button import Gesture
from bridge.core.control import Control
from bridge.core.desk import Desk
from bridge.core.effects import Pressed
from bridge.core.ground import Ground
from bridge.core.leg import Change
from bridge.core.news import News
from bridge.core.steering import Steering
from bridge.core.toggling import is_untold

NOTHING_BY_HAND = "nothing is asked of a hand now"

HAND_LEAST_S = 0.5
"""Sooner after it was asked for nobody has pressed a button on a desk and come back to
the pedal. A simple reaction alone takes 0.2 s; from memory, common practice."""

HOLD_SLACK_S = 0.2
"""How long after its time a hold may be heard and still belong to the tap before."""


@dataclass(frozen=True, slots=True)
class _Word:
    """A press that was taken for "done": which, when, and what it was about."""

    button: str
    scene: str
    at: float
    changes: tuple[Change, ...]


class Hands:
    """The word of a person, given by a press."""

    def __init__(self, desk: Desk, steering: Steering, news: News) -> None:
        self._desk = desk
        self._steering = steering
        self._news = news
        self._word: _Word | None = None

    @property
    def asked(self) -> tuple[Change, ...]:
        """What a person is asked to do now."""
        return tuple(
            awaited.change
            for awaited in self._desk.flight.awaited.values()
            if awaited.change and awaited.is_by_hand and not awaited.is_confirmed
        )

    @property
    def to_come(self) -> tuple[Change, ...]:
        """What a person will be asked to do later in this crossing."""
        journey = self._steering.journey
        if journey is None:
            return ()
        now = {change.control for change in self.asked}
        return tuple(c for c in journey.hands_left if c.control not in now)

    @property
    def unsure(self) -> tuple[Control, ...]:
        """Controls of which nobody has said how they stand, and nobody is asked.

        After a restart, or a crossing that was given up, only a person can tell.
        """
        belief = self._desk.knowledge.belief
        told = {change.control for change in (*self.asked, *self.to_come)}
        return tuple(
            control
            for name, control in self._desk.studio.controls.items()
            if is_untold(control, belief[name]) and name not in told
        )

    def done(self, ticket: int | None) -> None:
        """Everything that is asked by hand is done."""
        asked = self.asked
        if not asked:
            self._desk.tell(telling.not_taken(NOTHING_BY_HAND, ticket))
            return
        self._desk.tell(telling.done_by_hand(self._desk.studio, asked, ticket))
        for change in asked:
            self._news.said(change.control, change.value)

    @property
    def words(self) -> frozenset[tuple[str, Gesture]]:
        """Which presses say "done" now, once they are late enough: button, gesture."""
        journey = self._steering.journey
        if journey is None or journey.request.pressed is None:
            return frozenset()
        if not journey.waits_for_hands:
            return frozenset()
        first = journey.request.pressed
        return frozenset((first.button, g) for g in (Gesture.TAP, first.gesture))

    def is_word(self, press: Pressed) -> bool:
        """Whether this press says "done"."""
        journey = self._steering.journey
        if journey is None or self._desk.now - journey.asked_at < HAND_LEAST_S:
            return False
        return (press.button, press.gesture) in self.words

    def take_word(self, press: Pressed) -> None:
        """The press says "done"; it may turn out to be the beginning of a hold."""
        assert self._steering.journey is not None
        scene = self._steering.journey.request.scene.name
        self._word = _Word(press.button, scene, self._desk.now, self.asked)
        self.done(press.ticket)

    def heard(self, press: Pressed) -> None:
        """A press that is a request: a word that was only its beginning is void."""
        word, self._word = self._word, None
        if word is None or press.button != word.button:
            return
        button = {b.name: b for b in self._desk.studio.buttons}[press.button]
        leads_away = word.scene not in button.rounds.get(press.gesture, ())
        belongs = self._desk.now - word.at <= button.hold_ms / 1000 + HOLD_SLACK_S
        is_whole = press.gesture in (Gesture.HOLD, Gesture.DOUBLE)
        if not (is_whole and belongs and leads_away):
            return
        for change in word.changes:
            if self._desk.knowledge[change.control].ground is Ground.SAID:
                values = change.before | {change.value} | change.passes
                self._desk.knowledge.doubt(change.control, values, self._desk.now)
