"""The watch over what others do to the desk: whether a never-rule may be broken now.

Strategy: a fader under a hand says a hundred values a second, so what was moved is
collected for a moment and judged once. Nothing is sent from here: the hand on the desk
is the person's own; it is told what is wrong and what would mend it. A studio that
wants it mended at once says so; see `core.mending`.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from bridge.core import telling
from bridge.core.belief import Belief, settled
from bridge.core.control import Control, Reach, ports_of
from bridge.core.cures import change_words
from bridge.core.desk import Desk
from bridge.core.effects import Tell
from bridge.core.wire import Value

GATHER_S = 0.05
"""From a surprise to its judgement: a lamp that lights within this seems immediate."""

AGAIN_S = 0.5
"""Between two judgements, so that a moving fader costs two a second and no more."""


class Watch:
    """Judges the belief some time after it has changed."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.due = inf
        self.next_at = 0.0
        self.by_hand: dict[str, Value] = {}
        self.broken: frozenset[str] = frozenset()
        self._judged: Belief | None = None

    def inherit(self, old: Watch) -> None:
        """Know what was told before the file was read anew; then judge anew."""
        self.broken, self.next_at = old.broken, old.next_at
        self.by_hand = {
            name: value
            for name, value in old.by_hand.items()
            if name in self._desk.studio.controls
        }

    @property
    def is_broken(self) -> bool:
        """Whether a rule may have been broken when it was last judged."""
        return bool(self.broken)

    @property
    def hands(self) -> tuple[str, ...]:
        """What hands have moved since it was last judged."""
        return tuple(self.by_hand)

    def moved(self, name: str, value: Value) -> None:
        """Judge soon: this control was moved to this value by hand."""
        self.by_hand[name] = value
        self._look()

    def look(self) -> None:
        """Judge soon, if anything has changed since."""
        if self._desk.knowledge.belief is not self._judged:
            self._look()

    def _look(self) -> None:
        self.due = min(self.due, max(self._desk.now + GATHER_S, self.next_at))

    def judge(self) -> Iterator[Tell]:
        """What was moved, what is newly broken, or that all is well again."""
        desk = self._desk
        pause = GATHER_S if desk.studio.mends_drift else AGAIN_S
        self.due, self.next_at = inf, desk.now + pause
        belief = self._judged = desk.knowledge.belief
        moved, self.by_hand = self.by_hand, {}
        if moved:
            yield telling.moved_by_hand(desk.studio, belief, moved)
        broken = frozenset(desk.nevers_broken())
        if broken - self.broken:
            unsure = [
                desk.studio.controls[name].label
                for name, values in belief.items()
                if len(values) > 1
            ]
            scenes = tuple(_scenes(desk, belief))
            cuts = _cuts(desk, belief, tuple(moved))
            if desk.absent and not (scenes or cuts):
                cuts = f"see to what is not there: {', '.join(sorted(desk.absent))}"
            yield telling.alarm(sorted(broken), unsure, scenes, cuts)
        elif self.broken and not broken:
            yield telling.all_clear()
        self.broken = broken


def _scenes(desk: Desk, belief: Belief) -> Iterator[str]:
    """The scenes in which no never-rule would be broken, and that can be gone to."""
    for scene in desk.studio.scenes.values():
        moves = (n for n, value in scene.values.items() if belief[n] != {value})
        if any(ports_of(desk.studio.controls[n]) & desk.absent.keys() for n in moves):
            continue
        if not desk.judge.nevers_broken(settled(belief, scene.values)):
            yield scene.name


def _cuts(desk: Desk, belief: Belief, moved: tuple[str, ...]) -> str:
    """One of the moved controls set back, if that alone mends it, in words."""
    for name in moved:
        control = desk.studio.controls[name]
        for value in _others(control, belief):
            if not desk.judge.nevers_broken(settled(belief, {name: value})):
                return change_words(desk.studio, [(name, value)])
    return ""


def _others(control: Control, belief: Belief) -> tuple[Value, ...]:
    if control.reach is Reach.FIXED:
        return ()
    return tuple(v for v in control.values if v not in belief[control.name])
