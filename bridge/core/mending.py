"""What a hand on the desk has broken, mended at once, if the studio says so.

Strategy: only cuts are sent, so nothing can get louder; the fewest that end every
breach, of what the hand has moved if that does; planned and guarded like any crossing.
A person who sets it again and again means it: after a few times we only warn. What is
broken only for want of knowledge (a cable is out) is no hand's doing and left alone.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from itertools import combinations, islice, product

from bridge.core import telling
from bridge.core.belief import settled
from bridge.core.control import Scene, ports_of
from bridge.core.crossing import loudness_of
from bridge.core.desk import Desk
from bridge.core.journey import Request
from bridge.core.loudness import Direction
from bridge.core.steering import Steering
from bridge.core.toggling import is_ours
from bridge.core.wire import Value

MENDS = 3
"""Within a minute. One slip, and one more of somebody who did not notice, are mended;
whoever sets it a fourth time has seen what we do and wants it otherwise."""

MINUTE_S = 60.0

MOST_TOGETHER = 2
"""Cuts of which every set is tried; past that, cuts are left out one by one."""

MOST_TRIALS = 200
"""Sets of cuts judged, a millisecond each: the loop must not stand still for long."""

Cuts = dict[str, Value]


class Mender:
    """Sends the cure of a breach that a hand has made; remembers how often it did."""

    def __init__(self, desk: Desk, steering: Steering) -> None:
        self._desk = desk
        self._steering = steering
        self._loudness = loudness_of(desk.studio.graph)
        self._times: deque[float] = deque(maxlen=MENDS)
        self._moved: tuple[str, ...] = ()  # by hands, since a rule was broken

    def judged(self, hands: tuple[str, ...], *, is_broken: bool) -> None:
        """The desk was judged. hands: what was moved by hand since the last time."""
        if not is_broken:
            self._moved = ()
            return
        self._moved = hands or self._moved
        belief = self._desk.knowledge.belief
        is_sure = all(len(values) == 1 for values in belief.values())
        if self._moved or is_sure:  # sure: it is so, whoever did it and was not seen
            because = self._mend()
            if because and hands:
                self._desk.tell(telling.not_mended(because))

    def _mend(self) -> str:
        """Begin the way to the cure, or say why not."""
        desk = self._desk
        is_full = len(self._times) == MENDS
        if is_full and desk.now - self._times[0] < MINUTE_S:
            return f"it was mended {MENDS} times in a minute"
        cuts = self._cure(self._moved)
        if cuts is None:
            return "no cut of ours ends it"
        self._times.append(desk.now)
        self._steering.begin(Request(Scene("the cure", cuts, is_named=False)))
        return ""

    def _cure(self, moved: tuple[str, ...]) -> Cuts | None:
        """The fewest cuts that end every breach; None if all together do not."""
        choices = {name: self._cuts_of(name) for name in self._reachable(moved)}
        choices = {name: values for name, values in choices.items() if values}
        every = {name: values[-1] for name, values in choices.items()}
        if not self._mends(every):
            return None
        tried = islice(_sets(choices), MOST_TRIALS)
        best = self._kindest(cuts for cuts in tried if self._mends(cuts))
        return self._without_idle(every) if best is None else best

    def _kindest(self, cures: Iterator[Cuts]) -> Cuts | None:
        """Of those with as few cuts as the first, what keeps most keep-rules."""
        first = next(cures, None)
        if first is None:
            return None
        fewest = [first, *(c for c in cures if len(c) == len(first))]
        return min(fewest, key=self._keeps_lost)  # the first of equals

    def _keeps_lost(self, cuts: Cuts) -> int:
        after = settled(self._desk.knowledge.belief, cuts)
        return len(self._desk.judge.keeps_broken(after))

    def _without_idle(self, cuts: Cuts) -> Cuts:
        """The same without cuts that it can do without; what was moved goes last."""
        for name in reversed(list(cuts)):
            fewer = {other: v for other, v in cuts.items() if other != name}
            if self._mends(fewer):
                cuts = fewer
        return cuts

    def _mends(self, cuts: Cuts) -> bool:
        after = settled(self._desk.knowledge.belief, cuts)
        return not self._desk.judge.nevers_broken(after)

    def _reachable(self, moved: tuple[str, ...]) -> Iterable[str]:
        """What we can set now, what was moved first."""
        desk = self._desk
        names = dict.fromkeys((*moved, *desk.studio.controls))
        for name in names:
            control = desk.studio.controls[name]
            is_there = not ports_of(control) & desk.absent.keys()
            if is_there and is_ours(control, desk.knowledge.belief[name]):
                yield name

    def _cuts_of(self, name: str) -> list[Value]:
        """Values that are surely no louder than now, the loudest of them first."""
        control, now = self._desk.studio.controls[name], self._desk.knowledge.belief
        values = [
            value
            for value in control.values
            if now[name] != {value}
            and self._loudness.gates.get(name)
            and self._loudness.direction(name, now[name], value) is Direction.CUT
        ]
        rank = {
            v: sum(self._loudness.not_louder(name, v, than=w) for w in values)
            for v in values
        }
        return sorted(values, key=lambda value: rank[value])


def _sets(choices: dict[str, list[Value]]) -> Iterator[Cuts]:
    """One cut, then two: each set of controls, with each of their values."""
    for count in range(1, MOST_TOGETHER + 1):
        for names in combinations(choices, count):
            for values in product(*(choices[name] for name in names)):
                yield dict(zip(names, values, strict=True))
